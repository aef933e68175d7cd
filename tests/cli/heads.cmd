# Every command that answers over a span says what must be known of its figures: who counted a self-consumption and
# whether that meter nets its phases, and in its head line an estimate, a seam to sealed readings, a correction. New
# commands are asked too.
none='completion enter logbook note now salvage' # no figures over a span
# What these say of estimates, seams and corrections stands in their rows, one by one.
rows='extract outages spans validate'
invented() { "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }
mkdir -p own
cat >own/heads.conf <<END
site = { name = "Mill"; time_zone = "Europe/Berlin"; interval = 300; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/corrected.record"; runtime = "$PWD/own"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 10000; } );
END
corrected() { "$METERBOOK" -c own/heads.conf --now 2026-03-02T09:00:00Z "$@"; }
tariffs=$(cd "$(dirname "$0")/../../config/tariffs" && pwd)
is_of() { case " $2 " in *" $1 "*) return 0 ;; esac; return 1; }
# ask COMMAND WHAT RECORD ARGUMENTS...: its marks must name WHAT
ask() {
    command=$1 what=$2 record=$3
    shift 3
    # shellcheck disable=SC2086 # an option and its value
    form='--format json'
    [ "$command" != report ] || form= # a page has one form
    # shellcheck disable=SC2086
    "$record" $form $extra "$command" "$@" >answer.json 2>problems
    code=$?
    [ $code = 1 ] && [ "$record" = corrected ] && return # a day of two meters has no answer to every question
    [ $code = 0 ] || { echo "$command $*: exit code $code"; cat problems; return; }
    marks='/"marks"/p' notes='/"notes": \[/,/^  \]/'
    # a page has the same in lists of its own
    case $command in report) marks='/class="marks"/,/<\/ul>/p' notes='/class="notes"/,/<\/ul>/' ;; esac
    if ! sed -n "$marks" answer.json | grep -q "$what"; then
        echo "$command $*: its head line does not say '$what'"
        sed -n "$marks" answer.json
    fi
    if sed "${notes}d" answer.json | grep -q 'self[-_]consum' &&
        ! sed -n "${notes}p" answer.json | grep -q 'as counted by .*(phases \|derived from .*(phases \|as read from .*(phases '; then
        echo "$command $*: a self-consumption without who counted it"
    fi
}
for command in $("$METERBOOK" completion -- ''); do
    is_of "$command" "$none" && continue
    is_of "$command" "$rows" && continue
    extra=
    "$METERBOOK" "$command" --help | grep -q -e --contract && extra="--contract $tariffs/invented.contract"
    case $command in
    day) set -- 2024-06-11; sealed= ;; # no seam lies within a day
    month) set -- 2024-06; sealed='2023-02' ;;
    year) set -- 2024; sealed='2023' ;;
    cleaning) set -- 2024; sealed= ;; # none was noted before the record
    compare) set -- 2024-06 2023-06; sealed='2023-02 2024-02' ;;
    agreement) set -- 2024-05/2024-07; sealed= ;; # is of sealed readings all through
    *) set -- 2024-06; sealed='2023-02/2023-03' ;;
    esac
    ask "$command" estimated invented "$@"
    # shellcheck disable=SC2086 # compare has two words
    [ -z "$sealed" ] || ask "$command" 'sealed readings' invented $sealed
    case $command in
    day) ask "$command" corrected corrected 2026-03-01 ;;
    month) ask "$command" corrected corrected 2026-03 ;;
    year) ask "$command" corrected corrected 2026 ;;
    compare) ask "$command" corrected corrected 2026-03-01 2026-03-01 ;;
    agreement) ;; # there are no readings beside the correction
    *) ask "$command" corrected corrected 2026-03-01 ;;
    esac
done
echo asked
