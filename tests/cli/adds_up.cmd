# rows add up to the totals to the last mWh, by day, month and interval
for span in "household day 2026-03-20" "household month 2026-03" "three day 2026-05-05" "storage year 2026" \
    "household totals 2026-03-04/2026-03-27 --by week" "household totals 2026 --by year" "household totals 2026-03 --by hour" \
    "household totals 2026-03 --by interval" "household totals 2026-03 --by week --meter Roof" \
    "household totals 2026-03 --by week --measured-only" "storage totals 2026 --by hour" "negative totals 2026 --by hour" "negative totals 2026 --by month"; do
    set -- $span
    "$METERBOOK" --database $1.record --format json $2 $3 $4 $5 $6 $7 >span.json
    "$METERBOOK" --database $1.record --format csv $2 $3 $4 $5 $6 $7 2>/dev/null | tr -d '\r' |
        awk -F, -v OFMT=%.6f 'NR == 1 { for (i = 1; i <= NF; i++) name[i] = $i; next }
            { for (i in name) if (name[i] ~ /_kwh$/) { v = $i; sub(/\./, "", v); sum[i] += v } }
            END { for (i in name) if (name[i] ~ /_kwh$/) printf "%s %.0f\n", name[i], sum[i] }' | sort >rows
    grep '"totals"' span.json | tr ',' '\n' | sed -n 's/.*"\([a-z_]*_kwh\)": \(.*\)/\1 \2/p' |
        awk '{ v = $2; sub(/\./, "", v); printf "%s %.0f\n", $1, v }' | sort >totals
    cmp rows totals && echo "$span: same"
done
