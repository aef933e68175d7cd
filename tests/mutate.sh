#!/bin/sh
# Breaks the code on purpose, one way after another (tests/mutate.list), and shows
# that the simulation notices: tests/mutate.sh [NAME ...]
#
# Each change is made in a copy of the sources, which is built, and run through
# the scenarios, those named in the list first, then fixed random seeds, until
# one fails. Prints what caught it; the last line is 'N caught, N missed'. The
# code as it is has to pass first. Needs BUILD (default: build).
set -u
cd "$(dirname "$0")/.." || exit 1
BUILD=${BUILD:-build}
case $BUILD in /*) ;; *) BUILD=$PWD/$BUILD ;; esac
seeds=${METERBOOK_SEEDS:-20}
list=$PWD/tests/mutate.list
work=$BUILD/mutate
tree=$work/tree
rm -rf "$tree"
mkdir -p "$tree"
# no -p: make must see what is newer than the last copy's objects
cp -r Makefile daemon include tools tests "$tree" || exit 1
log=$work/log

build() { make -s -C "$tree" BUILD="$work/build" CFLAGS='-O2 -Wno-error' "$work/build/simulate" >"$log" 2>&1; }

# simulate FEAR ...: true when all pass; else $caught says what failed
simulate() {
    timeout 600 "$work/build/simulate" "$@" >"$log" 2>&1 && return
    code=$?
    caught=$(grep -m 1 'FAIL' "$log" | sed 's/^ *FAIL *//' | tr -s ' ')
    [ -n "$caught" ] || caught="$(echo "$*" | sed 's|[^ ]*/||g'): it ended with $code: $(tail -n 1 "$log")"
    return 1
}

# all NAME ...: the scenarios named, the others, random seeds
all() {
    for fear in "$@"; do
        [ -r "$tree/tests/sim/fears/$fear.cfg" ] || { echo "no scenario '$fear'"; exit 1; }
        simulate "$tree/tests/sim/fears/$fear.cfg" || return 1
    done
    for fear in "$tree"/tests/sim/fears/*.cfg; do
        case " $* " in *" $(basename "$fear" .cfg) "*) ;; *) simulate "$fear" || return 1 ;; esac
    done
    simulate --random "$seeds" 1
}

build || { cat "$log"; exit 1; }
all || { echo "the code as it is does not pass: $caught"; exit 1; }
found=0 missed=0
tab=$(printf '\t')
python3 tests/mutate.py "$list" >"$work/list" || exit 1
while IFS=$tab read -r name file fears says <&3; do
    [ $# = 0 ] || case " $* " in *" $name "*) ;; *) continue ;; esac
    cp "$tree/$file" "$work/kept"
    python3 tests/mutate.py "$list" "$name" "$work/kept" "$tree/$file" || exit 1
    build || { echo "$name does not build:"; cat "$log"; exit 1; }
    # shellcheck disable=SC2086 # a list of words
    if all $fears; then
        missed=$((missed + 1))
        echo "  MISSED  $name ($says)"
    else
        found=$((found + 1))
        echo "  caught  $name ($says): $caught"
    fi
    cp "$work/kept" "$tree/$file"
done 3<"$work/list"
echo "$found caught, $missed missed"
[ $missed = 0 ]
