"$METERBOOK" --database parts.record parts --by hour
"$METERBOOK" --database parts.record parts 2026-13
