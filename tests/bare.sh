#!/bin/sh
# README's commands in a bare Debian: tests/bare.sh DIRECTORY [COMMAND ...]
#
# Makes a minimal Debian 12 in DIRECTORY/base (kept for the next time), copies
# it to DIRECTORY/root, puts a fresh clone of the repository in it and runs each
# COMMAND there (default: apt-get install make, make demo, make check), with a
# network of its own kind: this machine's. Needs root, debootstrap and git.
# Mirror, keys and apt's settings are this machine's.
set -eu
[ $# -gt 0 ] || { sed -n '2,/^set/s/^# \{0,1\}//p' "$0"; exit 2; }
mkdir -p "$1"
place=$(cd "$1" && pwd)
shift
[ $# -gt 0 ] || set -- 'apt-get update && apt-get install -y --no-install-recommends make' 'make demo' 'make check'
top=$(cd "$(dirname "$0")/.." && pwd)
base=$place/base root=$place/root
[ "$(id -u)" = 0 ] || { echo "needs root" >&2; exit 2; }

if [ ! -e "$base/complete" ]; then
    mirror=$(apt-cache policy | sed -n 's|.* \(http[^ ]*\) bookworm/main .*|\1|p' | head -n 1)
    rm -rf "$base"
    debootstrap --variant=minbase bookworm "$base" "${mirror:?none in the sources of apt here}"
    touch "$base/complete"
fi

unmount() {
    for m in /dev/pts /dev/shm /dev /proc /sys ''; do
        if mountpoint -q "$root$m"; then umount "$root$m"; fi
    done
}
unmount
rm -rf --one-file-system "$root"
cp -a "$base" "$root"
trap unmount EXIT
mount --bind --make-private "$root" "$root" # a root that mounts may be made below
cp /etc/resolv.conf "$root/etc/resolv.conf"
rm -f "$root/etc/apt/sources.list"
for part in sources.list sources.list.d/debian.sources apt.conf.d auth.conf.d; do
    if [ -e "/etc/apt/$part" ]; then cp -a "/etc/apt/$part" "$root/etc/apt/$(dirname "$part")/"; fi
done
mount -t proc proc "$root/proc"
mount -t sysfs -o ro sysfs "$root/sys"
mount -t tmpfs tmpfs "$root/dev"
for device in null zero full random urandom tty; do
    touch "$root/dev/$device" && cp -a --remove-destination "/dev/$device" "$root/dev/$device"
done
mkdir "$root/dev/pts" "$root/dev/shm"
mount -t devpts -o newinstance,ptmxmode=0666,mode=0620 devpts "$root/dev/pts"
mount -t tmpfs tmpfs "$root/dev/shm"
ln -s pts/ptmx "$root/dev/ptmx"
ln -s /proc/self/fd "$root/dev/fd"

git clone -q "$top" "$root/work/meterbook"
for command in "$@"; do
    echo "bare: $command"
    start=$(date +%s)
    if ! env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root DEBIAN_FRONTEND=noninteractive \
        chroot "$root" sh -c "cd /work/meterbook && $command" </dev/null; then
        echo "bare: failed after $(($(date +%s) - start)) s: $command" >&2
        exit 1
    fi
    echo "bare: done in $(($(date +%s) - start)) s: $command"
done
