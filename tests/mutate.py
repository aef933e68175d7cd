"""Entries of tests/mutate.list.

mutate.py LIST                     prints a line per entry: name, file, scenarios, what it does wrong; tabs between
mutate.py LIST NAME FROM TO        writes FROM to TO with that entry's change made
"""
import sys


def entries(path):
    with open(path) as file:
        blocks = file.read().split("\n\n")
    for block in blocks:
        lines = [line for line in block.split("\n") if line and not line.startswith("#")]
        if not lines:
            continue
        if len(lines) != 5 or ": " not in lines[0] or lines[3][0] != "-" or lines[4][0] != "+":
            sys.exit(f"{path}: no entry: {lines}")
        name, says = lines[0].split(": ", 1)
        yield name, lines[1], lines[2], says, *(line[1:].replace("\\n", "\n") for line in lines[3:5])


def main():
    if len(sys.argv) == 2:
        for entry in entries(sys.argv[1]):
            print(*entry[:4], sep="\t")
        return
    path, wanted, source, target = sys.argv[1:]
    for name, _, _, _, old, new in entries(path):
        if name != wanted:
            continue
        with open(source) as file:
            text = file.read()
        if text.count(old) != 1:
            sys.exit(f"{wanted} does not apply: {source} has {text.count(old)} times: {old}")
        with open(target, "w") as file:
            file.write(text.replace(old, new))
        return
    sys.exit(f"{path} has no {wanted}")


main()
