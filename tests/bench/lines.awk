# Loss and ends of raw lines, as one would write it by hand: awk -f lines.awk FILE.log
# No checksum is looked at.
$1 == "rx" {
    for (i = 2; i <= NF; i++) {
        key = substr($i, 1, index($i, "=") - 1)
        if (key == "n" || key == "got" || key == "lost" || key == "ch")
            value[key] = substr($i, length(key) + 2)
    }
    if (value["n"] + 0 < n)
        g = l = 0
    else if (n == 0) {
        g = value["got"]
        l = value["lost"]
    }
    arrived += value["got"] - g
    missing += value["lost"] - l
    n = value["n"] + 0; g = value["got"]; l = value["lost"]
    channels = split(value["ch"], part, ",")
    for (i = 1; i <= channels; i++) {
        if (part[i] == "-")
            continue
        v = part[i] + 0
        if (!(i in low) || v < low[i])
            low[i] = v
        if (!(i in high) || v > high[i])
            high[i] = v
    }
}
END {
    printf "%d got, %d lost\n", arrived, missing
    for (i = 1; i in low; i++)
        print "ch" i, low[i], high[i]
}
