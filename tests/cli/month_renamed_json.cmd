"$METERBOOK" --database renamed.record --format=json month 2026-05
