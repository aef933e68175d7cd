#!/bin/sh
# What `make install` puts where, what systemd says of the unit, and the daemon at
# work behind the unit's own system-call filter, as its own user, with the file
# systems read-only and /proc cut down.
name=systemd
. "$(dirname "$0")/../wire/wire_lib.sh"
passed=0 failed=0
check() { # check WHAT COMMAND...
    what=$1
    shift
    if "$@" >"$work/said" 2>&1; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "failed: $what"
        sed 's/^/    /' "$work/said"
    fi
}
not_here() { echo "skipped: $1: $2"; }

inst=$work/inst
there() { [ -f "$inst$1" ] && [ "$(stat -c %a "$inst$1")" = "$2" ]; }
installs() { make -s -C "$top" BUILD="$BUILD" DESTDIR="$inst" PREFIX=/usr SYSCONFDIR=/etc "$@"; }
unit=$inst/usr/lib/systemd/system/meterbookd.service
check "make install" installs install
for program in meterbookd meterbook meterbook-panel; do check "$program" there /usr/bin/$program 755; done
for page in man8/meterbookd.8 man1/meterbook.1 man5/meterbook.conf.5; do
    check "$page" there /usr/share/man/$page 644
done
check "completion in bash" there /usr/share/bash-completion/completions/meterbook 644
check "completion in zsh" there /usr/share/zsh/site-functions/_meterbook 644
check "the unit" there /usr/lib/systemd/system/meterbookd.service 644
check "the example" there /usr/share/meterbook/meterbook.conf 644
check "the installed example is good" "$inst/usr/bin/meterbookd" -n -c "$inst/usr/share/meterbook/meterbook.conf"
check "paths are filled in" grep -qx 'ExecStart=/usr/bin/meterbookd -c /etc/meterbook/meterbook.conf' "$unit"
pages=$inst/usr/lib/systemd/system/meterbook-report
for part in service timer; do check "meterbook-report.$part" there "${pages#"$inst"}.$part" 644; done
check "no placeholder left" sh -c "! grep -q '@[A-Z]*@' '$unit' '$pages.service' '$pages.timer'"
# the unit must not restart a daemon that leaves with one of the codes main.c calls hopeless
code_of() { sed -n "s/.*EXIT_$1 = \([0-9]*\).*/\1/p" "$top/daemon/main.c"; }
check "exit codes" grep -qx "RestartPreventExitStatus=$(code_of USAGE) $(code_of CONFIG)" "$unit"

if command -v systemd-analyze >/dev/null; then
    check "exposure at most 1.8" systemd-analyze security --offline=true --threshold=18 --no-pager "$unit"
    sed -n 's/.*Overall/exposure: overall/p' "$work/said"
    mkdir "$work/unit"
    sed "s|/usr/bin/|$inst/usr/bin/|" "$unit" >"$work/unit/meterbookd.service"
    check "systemd-analyze verify" systemd-analyze verify --man=no "$work/unit/meterbookd.service"
    check "verify has nothing to say" sh -c "! grep meterbookd '$work/said'"
    check "exposure of the pages' unit at most 1.0" \
        systemd-analyze security --offline=true --threshold=10 --no-pager "$pages.service"
    sed "s|/usr/bin/|$inst/usr/bin/|" "$pages.service" >"$work/unit/meterbook-report.service"
    cp "$pages.timer" "$work/unit"
    check "verify the pages' units" systemd-analyze verify --man=no "$work/unit/meterbook-report.service" \
        "$work/unit/meterbook-report.timer"
    check "the timer's times are ones" systemd-analyze calendar "$(sed -n 's/^OnCalendar=//p' "$pages.timer")"
    check "verify has nothing to say of them" sh -c "! grep meterbook-report '$work/said'"
else
    not_here "the unit's exposure" "no systemd-analyze here"
fi
if command -v systemd-sysusers >/dev/null; then
    mkdir "$inst/etc"
    check "user and group" systemd-sysusers --root="$inst"
    check "the user's group is the readers'" \
        sh -c "grep -q \"^meterbook:[^:]*:[0-9]*:\$(sed -n 's/^meterbook-read:[^:]*:\([0-9]*\):.*/\1/p' '$inst/etc/group'):\" '$inst/etc/passwd'"
    check "who renders pages may read the record" sh -c "grep -q '^meterbook-read:.*meterbook-pages' '$inst/etc/group'"
else
    not_here "user and group" "no systemd-sysusers here"
fi

# An unprivileged daemon in the unit's sandbox, as far as one can be made here. Its
# system calls are those of SystemCallFilter; one more and the kernel kills it.
said() { grep -qx "$1" "$work/notified" 2>/dev/null; }
sandboxed() {
    begin "$work/panel" "$BUILD/meterbook-panel" --any-port --link "roof=$work/roof" --start 11:00 --scene 60 \
        "$top/config/demo-panel.conf"
    panel=$begun
    wait_for 10 grep -q '^ready$' "$work/panel" || { cat "$work/panel.err"; return 1; }
    port() { sed -n "s/^bus $1 .*:\([0-9]*\)$/\1/p" "$work/panel"; }
    mkdir "$work/state" "$work/run"
    host=localhost # a name, so that the resolver works behind the filter too
    getent hosts localhost >/dev/null || host=127.0.0.1
    cp -r "$top/config/maps" "$BUILD/meterbookd" "$work/"
    sed -e "s|/tmp/meterbook-demo/record.db|$work/state/record.db|" -e "s|/tmp/meterbook-demo/run|$work/run|" \
        -e "s|/tmp/meterbook-demo/roof|$work/roof|" -e "s|port = 15020|port = $(port panel)|" \
        -e "s|port = 15021|port = $(port cellar)|" -e "s|127.0.0.1|$host|" "$top/config/demo.conf" >"$work/m.conf"
    chmod 755 "$work" && chmod a+r -R "$work/maps" "$work/m.conf" && chmod 755 "$work/meterbookd"
    chown 65533:65533 "$work/state" "$work/run" && chmod 750 "$work/state" "$work/run"
    chown 65533 "$(readlink -f "$work/roof")"
    begin "$work/log" unshare -m --propagation private /usr/bin/python3 "$here/sandbox.py" --unit "$unit" --user 65533 \
        --writable "$work" --notify "$work/notified" "$work/meterbookd" -c "$work/m.conf"
    sandbox=$begun
    wait_for 20 said READY=1 || { cat "$work/log.err"; return 1; }
    wait_for 40 enough_rows || { cat "$work/log.err"; return 1; }
    [ "$(stat -c %a "$work/state/record.db")" = 640 ] || { ls -l "$work/state"; return 1; }
    kill -HUP "$(cat "$work/notified.pid")"
    wait_for 10 grep -q "read the logbook again" "$work/log.err" || { cat "$work/log.err"; return 1; }
    wait_for 40 said WATCHDOG=1 || { echo "the watchdog is not fed"; return 1; }
    kill -TERM "$(cat "$work/notified.pid")"
    wait "$sandbox"
    code=$?
    cat "$work/log.err" "$work/notified"
    end "$panel"
    said STOPPING=1 && [ $code = 0 ]
}
# What the timer starts, in the sandbox of its own unit: another user, who may read the record and write pages only.
rendered() {
    mkdir "$work/site" "$work/site/pages" && cp "$BUILD/meterbook" "$work/site/" && "$BUILD/invent" "$work/site/plant" --days 40 >/dev/null
    chmod -R a+rX "$work/site" && chmod 755 "$work" "$work/site/meterbook" && chown 65534:65534 "$work/site/pages"
    before=$(cksum <"$work/site/plant/record.db")
    unshare -m --propagation private /usr/bin/python3 "$here/sandbox.py" --unit "$pages.service" --user 65534 \
        --writable "$work/site" --notify "$work/site/notified" "$work/site/meterbook" -c "$work/site/plant/meterbook.conf" \
        --now 2023-04-09T09:00:00Z report --folder "$work/site/pages" || return 1
    [ "$before" = "$(cksum <"$work/site/plant/record.db")" ] || { echo "the record was written to"; return 1; }
    ls "$work/site/pages"
    grep -q '</html>' "$work/site/pages/"*.html && [ "$(stat -c %a "$work/site/pages/index.html")" = 640 ]
}
enough_rows() { [ "$(sqlite3 -readonly "$work/state/record.db" 'SELECT count(DISTINCT meter) FROM interval' || echo 0)" -ge 5 ] 2>/dev/null; }
if [ "$(id -u)" != 0 ] || ! unshare -m true 2>/dev/null; then
    not_here "the daemon in its sandbox" "needs root and mount namespaces"
elif ! /usr/bin/python3 -c 'import seccomp' 2>/dev/null || ! command -v sqlite3 systemd-analyze >/dev/null; then
    not_here "the daemon in its sandbox" "needs python3-seccomp, sqlite3 and systemd-analyze"
else
    check "the daemon in its sandbox" sandboxed
    check "the pages in theirs" rendered
fi
[ $failed != 0 ] || processes= # all have been waited for
echo "systemd: $passed passed, $failed failed"
[ $failed = 0 ]
