"""The kinds of receivers that the table tries, and what may be said of each.

A kind is a function of a random generator that gives a Case; its docstring says what the receiver
does. Its group says what is right:
  bad      dangerous: never "passed"
  good     safe, and prints every key: "passed"
  spare    safe, but keys are left out or the cable is bad: never "failed"; where a key or the cable
           is why nothing is shown, the text names it
  beyond   dangerous in a way that no trial of some minutes can see: told, not judged
What the faults are is common practice, from builders' forums and data sheets, or arithmetic.
"""
import bad
import good

GROUPS = {
    "bad": """
        lock_by_time lock_by_time_in late_age_capped late_age_wraps late_slow_clock
        late_clock_slow_in_outage watchdog_in_outage brownout_at_return preset_off_idle
        pulses_stop second_motor returns_after_seconds returns_at_wrap prints_presets
        no_failsafe no_lock creeps lock_by_time_edge lock_forgotten watchdog_at_loss
        arms_late servos_elsewhere lock_opens_at_forty lock_opens_by_movement
        transmitter_begins_low glimpse_at_return second_motor_unlocked late_clock_catches_up
        late_a_little late_a_little_slow_clock late_and_mute late_stale_packets
        late_second_motor late_real_output prints_rest_at_return works_once
        dying_transmitter dying_transmitter_no_in dying_transmitter_held phantom
        preset_a_little_off_idle reversing_preset_low pulses_stop_motor_keeps fewer_values
        second_motor_wanted hidden_motor creeps_a_little kick kick_between_reports flickers
        stray_packets reinit_moves reinit_moves_at_return garbled_while_it_runs
        any_bad_few_keys any_bad_bad_cable""".split(),
    "good": """
        clean fading trimmed_idle reversing two_motors idle_high raw_unit
        pulses_stop_and_motor no_throttle_named counters_wrap""".split(),
    "spare": """
        few_ch few_ch_t few_ch_got_t few_ch_fs_t few_no_in few_no_fs few_no_packets few_no_t
        few_no_n few_no_lock few_no_safe few_no_id few_by_chance numbers_only cable_loses
        cable_damages cable_damages_unseen cable_hole cable_hole_decisive cable_stalls
        slow_clock_good barely_in_time preset_below_idle transmitter_waits
        restarts_safely""".split(),
    "beyond": """
        returns_after_two_minutes lock_by_time_late one_in_three goodbye""".split(),
}

# name: (group, function)
KINDS = {name: (group, getattr(good, name, None) or getattr(bad, name))
         for group, names in GROUPS.items() for name in names}
