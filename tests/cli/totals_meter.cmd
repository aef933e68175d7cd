# one meter's own counters: by name and number, closed days and a day with a hole, corrections as they count
"$METERBOOK" --database household.record --by week --meter Roof totals 2026-03
"$METERBOOK" --database household.record --by hour --meter 7 totals 2026-03-05 | head -n 8
"$METERBOOK" --database household.record --format csv --meter 2 totals 2026-03-19/2026-03-21 2>&1
"$METERBOOK" --database corrected.record --meter all totals 2026-03-01
"$METERBOOK" --database household.record --format json --meter all totals 2026-03-12
