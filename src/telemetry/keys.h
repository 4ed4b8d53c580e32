/* The keys of an `rx` line, one row each.  All that goes by keys is made of these rows: enum
 * report_key and the members of struct report (telemetry/event.h), names and limits
 * (telemetry/words.c), the columns of a recording (session/columns.h).  So a new key is a new row,
 * and a part that is left out, or doesn't fit its shape, doesn't compile.
 *
 *   KEY      of enum report_key, without KEY_
 *   shape    of enum field_shape, without SHAPE_
 *   members  of struct report: one, or two for PAIR, PATTERN (bits, count) and CHANNELS (values,
 *            count)
 *   places   how many columns: ONE, TWO (of a PAIR), SIXTEEN (of CHANNELS)
 *   columns  their names; of SIXTEEN what their numbers follow
 *   key      on the wire
 *   low,high least and greatest value of I32 and CHANNELS; high: of U32 as well, 0 for any
 *   meaning  one line for a person, with the unit
 *
 * Columns stand in the order of these rows.  A new row goes behind TSTEP; recordings without its
 * column are read as before. */
#ifndef TELEMETRY_KEYS_H
#define TELEMETRY_KEYS_H

enum {
    CHANNEL_LOW = -32768,
    CHANNEL_HIGH = 65535,
    SUPPLY_HIGH = 99999, /* mV; no supply of a model is near it */
};

/* Hands a row's members or columns, which stand in brackets, to a macro of that many arguments. */
#define REPORT_APPLY(macro, bracketed) REPORT_APPLIED(macro, REPORT_OPEN bracketed)
#define REPORT_APPLIED(macro, opened)  macro(opened)
#define REPORT_OPEN(...)               __VA_ARGS__

/* clang-format off */
#define REPORT_TABLE(ROW)                                                                          \
    ROW(T, U32, (t_ms), ONE, ("rx_ms"), "t", 0, 0, "receiver uptime, ms")                          \
    ROW(N, U32, (n), ONE, ("report_no"), "n", 0, 0, "number of this line since boot")              \
    ROW(SEQ, U32, (seq), ONE, ("seq"), "seq", 0, 0, "sequence number in the newest packet")        \
    ROW(GOT, U32, (got), ONE, ("got"), "got", 0, 0, "packets received since boot")                 \
    ROW(LOST, U32, (lost), ONE, ("lost"), "lost", 0, 0,                                            \
        "packets missing by sequence number since boot")                                           \
    ROW(REFUSED, U32, (refused), ONE, ("refused"), "refused", 0, 0,                                \
        "packets refused since boot: wrong length or owner")                                       \
    ROW(PAT, PATTERN, (pat, pat_len), ONE, ("pat"), "pat", 0, 0,                                   \
        "outcome of each packet since the last report: o arrived, x missing")                      \
    ROW(AGE, U32, (age_ms), ONE, ("age_ms"), "age", 0, 0, "since the last packet, ms")             \
    ROW(GAP, U32, (gap_ms), ONE, ("gap_ms"), "gap", 0, 0,                                          \
        "longest gap since the last report, ms")                                                   \
    ROW(FS, FLAG, (fs), ONE, ("failsafe"), "fs", 0, 0, "failsafe active, 0 or 1")                  \
    ROW(FSN, U32, (fsn), ONE, ("failsafe_entries"), "fsn", 0, 0, "failsafe entries since boot")    \
    ROW(LOCK, FLAG, (lock), ONE, ("lock"), "lock", 0, 0,                                           \
        "outputs locked until the throttle is seen low, 0 or 1")                                   \
    ROW(MV, U32, (mv), ONE, ("supply_mv"), "mv", 0, SUPPLY_HIGH, "receiver supply now, mV")        \
    ROW(MVMIN, U32, (mvmin), ONE, ("supply_min_mv"), "mvmin", 0, SUPPLY_HIGH,                      \
        "lowest receiver supply since the last report, mV")                                        \
    ROW(HEARD, PAIR, (heard_hits, heard_looks), TWO, ("heard_hits", "heard_looks"), "heard", 0, 0, \
        "carrier detections while packets arrived, hits/looks")                                    \
    ROW(NOISE, PAIR, (noise_hits, noise_looks), TWO, ("noise_hits", "noise_looks"), "noise", 0, 0, \
        "carrier detections while none was expected, hits/looks")                                  \
    ROW(RSSI, I32, (rssi_dbm), ONE, ("rssi_dbm"), "rssi", -200, 100,                               \
        "signal strength of the newest packet, dBm")                                               \
    ROW(REG, REGISTERS, (reg), ONE, ("reg"), "reg", 0, 0,                                          \
        "radio registers read back: ok, default, absent, differs")                                 \
    ROW(REINIT, U32, (reinit), ONE, ("reinit"), "reinit", 0, 0, "radio set up anew since boot")    \
    ROW(TBOOT, U32, (tboot), ONE, ("tx_boot"), "tboot", 0, 0,                                      \
        "a number that each start of the transmitter changes")                                     \
    ROW(TMV, U32, (tmv), ONE, ("tx_mv"), "tmv", 0, SUPPLY_HIGH, "transmitter supply, mV")          \
    ROW(TSTEP, PAIR, (tstep, tsteps), ONE, ("tx_step"), "tstep", 0, 0,                             \
        "transmitter power setting, step/steps")                                                   \
    ROW(CH, CHANNELS, (ch, ch_count), SIXTEEN, ("ch"), "ch", CHANNEL_LOW, CHANNEL_HIGH,            \
        "values commanded at the outputs; - for no pulses")                                        \
    ROW(IN, CHANNELS, (in, in_count), SIXTEEN, ("in"), "in", CHANNEL_LOW, CHANNEL_HIGH,            \
        "stick values in the newest packet")
/* clang-format on */

#endif
