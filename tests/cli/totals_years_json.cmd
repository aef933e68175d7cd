"$METERBOOK" --database household.record --format json --by year totals 2025/2026
