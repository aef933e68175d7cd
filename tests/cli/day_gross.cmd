"$METERBOOK" --database gross.record day 2026-05-05
