# The encoder as C: each file a list of its lines, ended by NULL.  Beside a sketch both files lie in one
# folder, so that the include loses its folder.
function begin(name) {
    if (open)
        print "    NULL,\n};"
    open = 1
    print "\nstatic const char *const " name "[] = {"
}
BEGIN {
    print "/* Made from src/emit/ by sketch.awk. */\n#include <stddef.h>"
}
FNR == 1 {
    name = FILENAME
    sub(/.*\//, "", name)
    sub(/\./, "_", name)
    begin(name)
}
{
    sub(/"emit\/emit.h"/, "\"emit.h\"")
    gsub(/\\/, "&&")
    gsub(/"/, "\\\"")
    print "    \"" $0 "\","
}
END {
    print "    NULL,\n};"
}
