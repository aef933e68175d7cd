"$METERBOOK" --database role_change.record month 2026-05
