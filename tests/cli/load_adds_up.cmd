# over a month that was observed whole, load duration and average day hold what totals says, to the mWh
report() { "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z --format csv "$@" 2>/dev/null; }
report totals 2024-07 | awk -F, 'NR > 1 { p += $3; i += $4; e += $5; c += $6 } END { printf "import %.6f\nexport %.6f\nconsumption %.6f\nproduction %.6f\n", i, e, c, p }'
for flow in import export consumption production; do
    report duration 2024-07 --of $flow | awk -F, '$2 == "lowest" { print $1, $6, $5 " h" }'
    report profile 2024-07 --of $flow | awk -F, 'NR > 1 { s += $3 * $7 + $4 * $8 + $5 * $9; h += $7 + $8 + $9 } END { printf "%.2f %d h\n", s, h }'
done
# a month's peaks do not depend on the span that was asked for
report demand 2024-07 | sed -n '2,3p' | cut -d, -f 5-
report demand 2024-05/2024-08 | grep 2024-07, | cut -d, -f 5-
