# Loss and ends of a recording, as one would write it by hand: awk -F, -f recording.awk FILE.csv
# Quotes and the cable's damage are passed over.
NR == 1 {
    for (i = 1; i <= NF; i++)
        at[$i] = i
    no = at["report_no"]; got = at["got"]; lost = at["lost"]; first = at["ch1"]; last = at["ch16"]
    next
}
$1 == "rx" {
    if ($no + 0 < n)
        g = l = 0
    else if (n == 0) {
        g = $got
        l = $lost
    }
    arrived += $got - g
    missing += $lost - l
    n = $no + 0; g = $got; l = $lost
    for (i = first; i <= last && $i != ""; i++) {
        if ($i == "off")
            continue
        v = $i + 0
        if (!(i in low) || v < low[i])
            low[i] = v
        if (!(i in high) || v > high[i])
            high[i] = v
    }
}
END {
    printf "%d got, %d lost\n", arrived, missing
    for (i = first; i in low; i++)
        print "ch" i - first + 1, low[i], high[i]
}
