#!/bin/sh
# Every example of a command's manual page (the lines .Dl below EXAMPLES) and every line of README that
# calls meterbook answers: with code 0, and with something on standard output or in a file. They are run on two
# years of the invented plant, whose second year (2024) stands for that of the examples. Those of meterbook(1) are
# run by the case manual.cmd.
name=test_examples
. "$(dirname "$0")/../wire/wire_lib.sh"
"$BUILD/invent" "$work/site" >/dev/null || fail "invent"
cd "$work/site" || fail "no directory"
failed=0
# the plant's invented contract
mkdir tariffs carbon && cp "$top"/config/tariffs/* tariffs && cp "$top"/config/carbon/* carbon || fail "no tariffs"
sed -i '/^record *=/s/{/{ contract = "tariffs\/invented.contract";/' meterbook.conf

# Called by the examples through eval.
meterbook() { "$BUILD/meterbook" -c meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }

# What the examples speak of, and what there is here (lines that name 2023 speak of it already).
here_is="/2023/! s/2025/2023/g; s/2026/2024/g; s/Roof/'inverter 1'/; s/OLD NEW/record.db new.db/; s/correct grid/correct 'grid meter'/"
printf 'time,inverter 1.export[Wh/interval]\n2022-06-01T12:00:00Z,100\n2022-06-01T12:05:00Z,120\n' >former-logger.csv

# run_examples WHERE: the lines of standard input
run_examples() {
    while IFS= read -r example; do
        rm -rf answer problems
        touch before
        example=$(printf '%s\n' "$example" | sed "$here_is")
        eval "$example" >answer 2>problems </dev/null
        code=$?
        made=$(find . -newer before -type f -size +0 ! -name 'record.db*' ! -name before ! -name problems | head -n 1)
        count=$((count + 1))
        [ $code = 0 ] && [ -n "$made" ] && continue
        echo "$1: '$example' ends with $code$([ -n "$made" ] || echo ', prints nothing'): $(head -n 3 problems)"
        failed=$((failed + 1))
    done
}

count=0
for page in "$top"/tools/meterbook-*.1; do
    sed -n '/^\.Sh EXAMPLES/,/^\.Sh [^E]/s/^\.Dl \(meterbook .*\)/\1/p' "$page" |
        sed 's/\\(dq/"/g; s/\\(aq/'"'"'/g; s/\\-/-/g; s/\\e/\\/g' >examples
    [ -s examples ] || { echo "$page: no example"; failed=$((failed + 1)); }
    run_examples "$(basename "$page")" <examples
done
# what stands behind three spaces explains
sed -n 's/^    \(meterbook .*\)/\1/p' "$top/README.md" | sed 's/   .*//' >examples
run_examples README.md <examples
[ $failed = 0 ] || fail "$failed of $count examples"
echo "$name: $count examples answer"
