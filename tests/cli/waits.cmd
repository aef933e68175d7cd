# no clock is trusted: what was read waits, and the answer says what can be done
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
held="INSERT INTO held(boot, ms, meter, counter, account, shift, value, raw, step, unobserved, state)
    VALUES('x', 4000, 2, 0, 1, 0, 1, 1, 1000, 0, 'waiting')"
answer() { "$METERBOOK" --database w.record --now 2026-03-30T12:07:07Z "$@"; echo "code $?"; }
sqlite3 settings_only.record ".backup w.record"
sqlite3 w.record "$held"
answer day
answer now
sqlite3 household.record ".backup w.record"
sqlite3 w.record "$held"
answer month 2026-03 | head -8
answer month 2026-02 | grep -c wait
answer now | head -3
