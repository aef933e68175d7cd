"$METERBOOK" --database derived.record day 2026-05-05
