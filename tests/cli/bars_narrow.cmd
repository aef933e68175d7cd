COLUMNS=60 "$METERBOOK" --database three.record --bars always day 2026-05-05
