#!/bin/sh
# Builds one firmware, OUT.hex beside OUT.elf, and prints its size.
#
#     sh build.sh receiver|transmitter OUT.elf [-DBOARD_RF_CH=26 ...]
#
# The settings that -D can change stand in settings.h.  AVR_GCC names another compiler; DEPFILE, if
# set, gets what the ELF depends on.
set -e
[ $# -ge 2 ] || set -- "" ""
name=$1 elf=$2
shift 2
board=$(dirname "$0")
gcc=${AVR_GCC:-avr-gcc}
both="clock guard lines payload radio serial spi uplink"
case $name in
receiver) files="receiver servo supply $both" ;;
transmitter) files="transmitter analogue pace stick $both" ;;
*)
    echo "usage: sh build.sh receiver|transmitter OUT.elf [-DNAME=VALUE ...]" >&2
    exit 2
    ;;
esac
flags="-mmcu=atmega328p -DF_CPU=16000000UL -Os -g -std=c11 -ffunction-sections -fdata-sections"
warnings="-Wall -Wextra -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Werror"
parts=$(mktemp -d)
trap 'rm -rf "$parts"' EXIT
for file in $files ../emit/emit; do
    # shellcheck disable=SC2086 # the flags are words
    "$gcc" $flags $warnings "$@" -I"$board/.." -MMD -MT "$elf" -c "$board/$file.c" \
        -o "$parts/$(basename "$file").o"
done
"$gcc" -mmcu=atmega328p -Os -Wl,--gc-sections -o "$elf" "$parts"/*.o
"${gcc%gcc}objcopy" -O ihex -R .eeprom "$elf" "${elf%.elf}.hex"
[ -z "$DEPFILE" ] || cat "$parts"/*.d >"$DEPFILE"
"${gcc%gcc}size" -C --mcu=atmega328p "$elf" | sed -n "s/^\(Program\|Data\):/$name \1:/p"
