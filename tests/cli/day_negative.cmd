"$METERBOOK" --database negative.record day 2026-05-05
