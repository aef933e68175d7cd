# whole days alone: the last one is not over; 12 March is estimated in part: no lowest day
"$METERBOOK" --database household.record --of import extremes 2026-03
"$METERBOOK" --database household.record --count 40 extremes 2026-03 | grep -c highest
"$METERBOOK" --database household.record --format csv --of self_consumption --count 1 extremes 2026 2>&1
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z --count 2 extremes all
