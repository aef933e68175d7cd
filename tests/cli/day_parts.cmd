"$METERBOOK" --database parts.record day 2026-05-05
