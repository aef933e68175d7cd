"$METERBOOK" --database household.record --format json month 2026-03
