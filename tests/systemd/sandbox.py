#!/usr/bin/python3
"""Runs a daemon as its unit's sandbox would have it, and is its service manager.

The unit's SystemCallFilter, RestrictAddressFamilies, MemoryDenyWriteExecute,
LimitNOFILE, UMask, ProtectSystem=strict, ProcSubset=pid and the empty
capability set are made anew with seccomp and mounts (in a mount namespace that
the caller made); a system call outside the filter kills the daemon instead of
giving it EPERM, so that a test notices. Each line of the notify protocol goes to the
--notify file, the daemon's process id to that name with .pid.
"""
import argparse
import ctypes
import os
import resource
import socket
import subprocess
import sys

import seccomp

parser = argparse.ArgumentParser()
parser.add_argument("--unit", required=True)
parser.add_argument("--user", type=int, required=True)
parser.add_argument("--writable", required=True)
parser.add_argument("--notify", required=True)
parser.add_argument("command", nargs=argparse.REMAINDER)
args = parser.parse_args()

settings = {}
for line in open(args.unit, encoding="utf-8"):
    if "=" in line and not line.startswith("#"):
        key, value = line.strip().split("=", 1)
        settings.setdefault(key, []).append(value)


def calls_of(name):
    """A system call, or the members of a set, as this systemd knows them."""
    if not name.startswith("@"):
        return {name}
    text = subprocess.run(["systemd-analyze", "syscall-filter", "--no-pager", name],
                          check=True, capture_output=True, text=True).stdout
    words = [line.strip() for line in text.splitlines()[1:]]
    return set().union(*(calls_of(word) for word in words if word and not word.startswith("#")))


allowed = calls_of("@default")
for line in settings["SystemCallFilter"]:
    members = set().union(*(calls_of(word) for word in line.lstrip("~").split()))
    allowed = allowed - members if line.startswith("~") else allowed | members


def load_filter():
    rules = seccomp.SyscallFilter(seccomp.KILL_PROCESS)
    for call in sorted(allowed - {"socket", "mmap", "mmap2", "mprotect"}):
        try:
            rules.add_rule(seccomp.ALLOW, call)
        except (RuntimeError, ValueError):
            pass  # no such call on this machine
    families = settings["RestrictAddressFamilies"][0].split()
    for family in families:
        rules.add_rule(seccomp.ALLOW, "socket", seccomp.Arg(0, seccomp.EQ, getattr(socket, family)))
    # the resolver looks for addresses of this machine and lives without
    rules.add_rule(seccomp.ERRNO(97), "socket", seccomp.Arg(0, seccomp.EQ, socket.AF_NETLINK))
    for flag in (2, 4):  # never PROT_WRITE and PROT_EXEC at once
        rules.add_rule(seccomp.ALLOW, "mmap", seccomp.Arg(2, seccomp.MASKED_EQ, flag, 0))
    rules.add_rule(seccomp.ALLOW, "mprotect", seccomp.Arg(2, seccomp.MASKED_EQ, 4, 0))
    rules.load()


def confine():
    limit = int(settings["LimitNOFILE"][0])
    resource.setrlimit(resource.RLIMIT_NOFILE, (limit, limit))
    os.umask(int(settings["UMask"][0], 8))
    os.chroot(root)
    os.chdir("/")
    libc = ctypes.CDLL(None)
    for capability in range(64):
        libc.prctl(24, capability, 0, 0, 0)  # PR_CAPBSET_DROP
    os.setgroups([])
    os.setgid(args.user)
    os.setuid(args.user)
    libc.prctl(38, 1, 0, 0, 0)  # PR_SET_NO_NEW_PRIVS
    load_filter()


def mount(*words):
    subprocess.run(["mount", *words], check=True)


inbox = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
address = args.notify + ".socket"
inbox.bind(address)
os.chmod(address, 0o666)
log = open(args.notify, "w", encoding="utf-8")
root = args.writable + "/root"
os.mkdir(root)
mount("--rbind", "/", root)
mount("-o", "remount,bind,ro", root)
mount("--bind", args.writable, root + args.writable)
mount("-t", "proc", "-o", "subset=pid,hidepid=invisible", "proc", root + "/proc")

environment = {"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "4000000"}
child = subprocess.Popen(args.command, env=environment, preexec_fn=confine)
with open(args.notify + ".pid", "w", encoding="utf-8") as file:
    print(child.pid, file=file)
inbox.settimeout(0.2)
while True:
    code = child.poll()
    try:
        while True:
            print(inbox.recv(4096).decode(), file=log, flush=True)
    except socket.timeout:
        pass
    if code is not None:
        if code < 0:
            print(f"killed by signal {-code}; 31 is a system call outside the filter", file=sys.stderr)
        sys.exit(code if code >= 0 else 128 - code)
