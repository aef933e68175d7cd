"$METERBOOK" --database renamed.record day 2026-05-05
