# without intervals that are estimated or not observed whole: 12 March was filled for two hours, 20 March has a hole
"$METERBOOK" --database household.record --measured-only month 2026-03 | sed -n '1,6p; /^2026-03-\(11\|12\|20\)/p; /^total/p'
"$METERBOOK" --database household.record --measured-only day 2026-03-12 | sed -n '1,4p; /^0[89]\|^1[0-2]/p; /^total/p'
"$METERBOOK" --database household.record --measured-only --format json year 2026 | grep marks
# the days' sum is the hours' sum
for by in day hour interval week; do
    "$METERBOOK" --database household.record --measured-only --by $by --format json totals 2026-03 | sed -n 's/.*"totals": .*"production_kwh": \([0-9.]*\), "import_kwh": \([0-9.]*\).*"observed_share": \([0-9.]*\).*/\1 \2 \3/p'
done
