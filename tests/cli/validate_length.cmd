# another interval's length in the middle of a day; a configuration that the record does not have whole
"$METERBOOK" --database checks_length.record --now 2026-04-02T12:00:00Z validate 2026-03 | grep -v 'not told'; echo
"$METERBOOK" --database checks_length.record --now 2026-04-02T12:00:00Z --format csv validate 2026-03-25 2>/dev/null | grep House,time
