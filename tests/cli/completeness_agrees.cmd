# what `completeness` counts is what `validate` counts, and what the balance prints as observed
mkdir -p own
both() { # record's options, span
    "$METERBOOK" $1 --format csv validate "$2" 2>own/problems | awk -F, '
        function put(item, value) { printf "%s,%s,%.6f\n", $1, item, value + 0 }
        $2 != "shares" { next }
        $3 == "nothing missing" { put("missing_s", $10) }
        $3 == "all observed" { put("unobserved_s", $10) }
        $3 == "nothing interpolated" { put("interpolated_kwh", $8) }
        $3 == "nothing estimated" { put("estimated_kwh", $8) }
        $3 == "nothing entered" { put("entered_kwh", $8) }
        $3 == "nothing corrected" { put("corrected_kwh", $8) }' | sort >own/validate
    "$METERBOOK" $1 --format csv completeness "$2" 2>>own/problems | awk -F, '
        NR == 1 { for (i = 1; i <= NF; i++) head[i] = $i; next }
        { for (i = 1; i <= NF; i++) if (head[i] ~ /_s$|_kwh$/ && head[i] !~ /^(expected|energy)/)
              printf "%s,%s,%.6f\n", $2, head[i], $i }' | sort >own/completeness
    comm -23 own/validate own/completeness
    echo "$2: $(wc -l <own/validate) figures, $(awk -F, '$3 > 0' own/validate | wc -l) above zero"
}
both "--database household.record --now 2026-03-30T12:07:07Z" 2026-03
both "--database household.record --now 2026-03-30T12:07:07Z" 2026-03-12
# a damaged record: an hour of intervals is gone of a day that was closed with them, which only `validate` looks into
both "--database checks_faulty.record --now 2026-04-02T12:00:00Z" 2026-03
both "--database corrected.record --now 2026-03-02T12:00:00Z" 2026-03-01
both "-c invented/meterbook.conf --now 2025-03-01T09:00:00Z" 2024

# by month, of the least observed meter of the balance
observed() { # options, year, meters
    "$METERBOOK" $1 --format csv year $2 2>own/problems | awk -F, '
        NR == 1 { for (i = 1; i <= NF; i++) if ($i == "observed_share") at = i; next }
        { print substr($1, 1, 7), $at }' >own/year
    "$METERBOOK" $1 --format csv completeness --by month $2 2>own/problems | awk -F, -v meters="$3" '
        NR > 1 && index(meters, $2) { if (!($1 in least) || $4 < least[$1]) least[$1] = $4 }
        END { for (month in least) print month, least[month] }' | sort >own/least
    diff own/year own/least && echo "$2: $(wc -l <own/year) months, $(grep -vc 1.000000 own/year) not whole"
}
observed "-c invented/meterbook.conf --now 2025-03-01T09:00:00Z" 2024 "grid meter,production meter"
observed "--database household.record --now 2026-03-30T12:07:07Z" 2026 "Roof,House"
observed "--database outages.record --now 2026-11-04T17:00:00Z" 2026 "Roof,House"
observed "--database lost.record --now 2026-05-06T17:00:00Z" 2026 "Roof,House"
# the newest interval of one meter is missing here, and not yet known to `validate`
both "--database gaps.record --now 2026-11-04T17:00:00Z" 2026
observed "--database gaps.record --now 2026-11-04T17:00:00Z" 2026 "Roof,House"
