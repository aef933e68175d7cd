"$METERBOOK" --database three.record day 2026-05-05
