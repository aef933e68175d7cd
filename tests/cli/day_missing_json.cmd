"$METERBOOK" --database household.record --format json day 2026-03-20 | sed -n "1,/rows/p"
