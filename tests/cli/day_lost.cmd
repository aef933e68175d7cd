"$METERBOOK" --database lost.record day 2026-05-05
