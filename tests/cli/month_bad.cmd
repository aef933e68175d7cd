"$METERBOOK" --database household.record month 2026-13
