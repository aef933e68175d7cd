#!/bin/sh
# Pages as a reader sees them: loaded, folded and unfolded, at three widths, in light and dark, on A4, in headless Chromium.
# pages.py says what is looked at. Without a browser nothing is: `tests/deps.sh pages` installs one.
# METERBOOK_SCREENSHOTS=FOLDER keeps pictures.
name=test_pages
. "$(dirname "$0")/../wire/wire_lib.sh"
chromium=
for program in chromium chromium-browser; do
    chromium=${chromium:-$(command -v "$program")}
done
[ -n "$chromium" ] || skip "the pages were not looked at in a browser: no Chromium (tests/deps.sh pages)"
"$BUILD/invent" "$work/site" >/dev/null || fail "invent"
mkdir "$work/pages" "$work/browser"
while read -r page span; do
    "$BUILD/meterbook" -c "$work/site/meterbook.conf" --now 2025-03-01T09:00:00Z report "$span" \
        --output "$work/pages/$page.html" || fail "report $span"
done <<END_OF_PAGES
all all
month 2024-06
day 2024-06-11
sealed 2022
END_OF_PAGES
# processor time, the least of two: to be one second, of which others on the machine make two
case $BUILD in */asan* | */tsan | */coverage) seconds=30 ;; *) seconds=2.5 ;; esac
python3 - "$seconds" "$BUILD/meterbook" -c "$work/site/meterbook.conf" --now 2025-03-01T09:00:00Z report 2024 \
    --output "$work/pages/year.html" <<'END' || fail "the year's page takes too long"
import os, subprocess, sys
times = []
for _ in range(2):
    before = os.times()
    subprocess.run(sys.argv[2:], check=True)
    after = os.times()
    times.append(after.children_user + after.children_system - before.children_user - before.children_system)
print(f"the year's page: {min(times):.2f} s of a processor")
sys.exit(min(times) > float(sys.argv[1]))
END
for site in grid_alone short storage; do # one without production, one of hours, one with all columns
    "$BUILD/make_record" "$work/$site.record" "$top/tests/cli/fixture_$site.sql" || fail "make_record"
    "$BUILD/meterbook" --database "$work/$site.record" --now 2026-06-01T00:00:00Z report all \
        --output "$work/pages/$site.html" || fail "report of $site"
done
size=$(wc -c <"$work/pages/year.html")
[ "$size" -lt 400000 ] || fail "the year's page has $size bytes"

python3 "$top/tests/cli/pages.py" "$chromium" "$work/browser" "$work/pages/"*.html || fail "see above"
echo "$name: all pages hold, a year's page has $size bytes"
