"$METERBOOK" --database undated.record day 2026-05-05
