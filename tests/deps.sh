#!/bin/sh
# Sees that Debian packages are there: tests/deps.sh build|demo|check|lint|arm|bench|pages ...
# Installs what is missing where it may, else says what to run. Where there is no
# dpkg, the tools are taken to be there.
set -eu
packages='' data=''
for purpose in build "$@"; do
    case $purpose in
    build) packages="$packages gcc libc6-dev make pkg-config libmodbus-dev libsqlite3-dev libconfig-dev tzdata" ;;
    demo) packages="$packages sqlite3" ;;
    check) packages="$packages libcmocka-dev python3 python3-pymodbus python3-serial-asyncio python3-seccomp python3-ephem libxml2-utils sqlite3 systemd locales" data=gretl-data ;;
    lint) packages="$packages clang clang-format clang-tidy cppcheck mandoc shellcheck" ;;
    arm) packages="$packages gcc-arm-linux-gnueabihf libc6-dev-armhf-cross" ;;
    bench) packages="$packages libcmocka-dev python3 python3-pymodbus sqlite3" ;;
    pages) packages="$packages chromium fonts-dejavu-core python3" ;; # 300 MB, for one test, which says that it had none
    *) echo "tests/deps.sh: unknown purpose '$purpose'" >&2; exit 2 ;;
    esac
done
command -v dpkg-query >/dev/null || exit 0
missing='' unpacked=''
for package in $packages; do
    status=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
    case $status in installed*) ;; *) missing="$missing $package" ;; esac
done
if [ -n "$data" ] && [ ! -d /usr/share/gretl ] && [ ! -d "${BUILD:-build}/packages/usr/share/gretl" ]; then
    unpacked=$data
fi
[ -n "$missing$unpacked" ] || exit 0
if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null; then
    [ -n "$missing" ] || exit 0 # data are for one test, which says that it had none
    echo "missing packages; as root: apt-get install -y --no-install-recommends$missing" >&2
    exit 1
fi
echo "installing:$missing $unpacked"
export DEBIAN_FRONTEND=noninteractive
log=$(mktemp)
trap 'rm -f "$log"' EXIT
# shellcheck disable=SC2086 # a list of words
if ! { apt-get update && apt-get install -y --no-install-recommends $missing; } >"$log" 2>&1; then
    tail -n 20 "$log" >&2
    echo "these packages could not be installed:$missing" >&2
    exit 1
fi
if [ -n "$unpacked" ]; then # its data alone, without the program that it belongs to
    mkdir -p "${BUILD:-build}/packages"
    cd "${BUILD:-build}/packages"
    { apt-get download "$unpacked" && dpkg-deb -x "$unpacked"_*.deb .; } >"$log" 2>&1 || tail -n 3 "$log" >&2
fi
