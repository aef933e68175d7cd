"$METERBOOK" --database role_change.record day 2026-05-05
