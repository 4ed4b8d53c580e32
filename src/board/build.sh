#!/bin/sh
# Builds one firmware, its .hex beside it, and prints its size.  Works without meson too:
#
#     sh build.sh avr-gcc avr-size SRC_FOLDER OUT.elf OUT.d FILES... [-DBOARD_RF_CH=26 ...]
set -e
gcc=$1 size=$2 src=$3 elf=$4 depfile=$5
shift 5
objects=$elf.parts
rm -rf "$objects"
mkdir -p "$objects"
: >"$depfile"
flags="-mmcu=atmega328p -DF_CPU=16000000UL -Os -g -std=c11 -ffunction-sections -fdata-sections"
warnings="-Wall -Wextra -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Werror"
defines=
for arg; do
    case $arg in -D*) defines="$defines $arg" ;; esac
done
for arg; do
    case $arg in
    *.c)
        object=$objects/$(basename "$arg" .c).o
        # shellcheck disable=SC2086
        "$gcc" $flags $warnings $defines -I"$src" -MMD -MT "$elf" -c "$arg" -o "$object"
        cat "${object%.o}.d" >>"$depfile"
        ;;
    esac
done
"$gcc" -mmcu=atmega328p -Os -Wl,--gc-sections -o "$elf" "$objects"/*.o
"${gcc%gcc}objcopy" -O ihex -R .eeprom "$elf" "${elf%.elf}.hex"
"$size" -C --mcu=atmega328p "$elf" | sed -n "s/^\(Program\|Data\):/$(basename "$elf") \1:/p"
