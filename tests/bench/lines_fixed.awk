# The same with n and ch where they usually stand, and lost right behind got: quicker, and wrong for
# receivers that print in another order.
$1 == "rx" {
    no = substr($2, 3) + 0
    ch = substr($4, 4)
    for (i = 5; i <= NF; i++)
        if (substr($i, 1, 4) == "got=") {
            got = substr($i, 5)
            lost = substr($(i + 1), 6)
            break
        }
    if (no < n)
        g = l = 0
    else if (n == 0) {
        g = got
        l = lost
    }
    arrived += got - g
    missing += lost - l
    n = no; g = got; l = lost
    channels = split(ch, part, ",")
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
