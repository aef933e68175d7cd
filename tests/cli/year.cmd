"$METERBOOK" --database household.record year 2026
