"$METERBOOK" --database storage.record day 2026-05-05
