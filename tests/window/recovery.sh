#!/bin/sh
# Kills the real window in mid-edit and sees that the work comes back.
# usage: tests/window/recovery.sh [PROGRAM]   (default: target/release/vialwright)
# On a virtual screen, by keys alone: opens a design, changes a number, goes on changing it, ends the program with
# SIGKILL, starts it anew, restores, saves, and compares the saved file with what was kept. Exit status 0: the work
# came back. Debian packages: xvfb xdotool openbox python3 libgl1-mesa-dri libgl1 libegl1 libxkbcommon-x11-0
# libxcursor1 libxi6 libx11-xcb1
set -eu
cd "$(dirname "$0")/../.."
program=${1:-target/release/vialwright}
home=$(mktemp -d)
screen=
manager=
window=
finish() {
    for process in $window $manager $screen; do kill -9 "$process" 2>/dev/null || true; done
    rm -rf "$home"
}
trap finish EXIT
fail() {
    echo "recovery: $*" >&2
    cat "$home/output" >&2 || true
    exit 1
}

HOME=$home XDG_RUNTIME_DIR=$home
export HOME XDG_RUNTIME_DIR
unset XDG_DATA_HOME XDG_CONFIG_HOME WAYLAND_DISPLAY DBUS_SESSION_BUS_ADDRESS || true
number=90
while [ -e "/tmp/.X11-unix/X$number" ]; do number=$((number + 1)); done
DISPLAY=:$number
export DISPLAY
Xvfb "$DISPLAY" -screen 0 1400x1000x24 -nolisten tcp >/dev/null 2>&1 &
screen=$!
sleep 1
openbox >/dev/null 2>&1 &
manager=$!
sleep 1

design=$home/design.json
kept=$home/.local/share/vialwright/recovery
cp examples/teaching-three.json "$design"

start() { # [FILE]
    "$program" "$@" >"$home/output" 2>&1 &
    window=$!
    id=
    for _ in $(seq 100); do
        id=$(xdotool search --onlyvisible --name 'Vialwright$' 2>/dev/null | head -n 1) && [ -n "$id" ] && break
        kill -0 "$window" 2>/dev/null || fail "the program has ended"
        sleep 0.2
    done
    [ -n "$id" ] || fail "no window"
    xdotool windowactivate --sync "$id"
    sleep 1
}
press() { xdotool key --delay 40 "$@"; sleep 0.2; }
act() { # WORDS: does the one action that they name
    press ctrl+k
    xdotool type --delay 15 "$1"
    sleep 0.2
    press Return
}
record() { find "$kept" -name '*.json' 2>/dev/null | head -n 1; }
wait_for() { # SECONDS COMMAND...: until the command succeeds
    tries=$(($1 * 5))
    shift
    while ! "$@"; do
        tries=$((tries - 1))
        [ "$tries" -gt 0 ] || return 1
        sleep 0.2
    done
}
is_kept() { [ -n "$(record)" ]; }
is_saved() { ! cmp -s "$design" examples/teaching-three.json; }
has_ended() { ! kill -0 "$window" 2>/dev/null; }

start "$design"
# Choose the first piece on the bench and move it by a millimetre.
act "go to bench"
press n Right
wait_for 5 is_kept || fail "no piece could be moved by keys"
cp "$(record)" "$home/first.json"
# Go on moving it, and end the program in between.
(for _ in $(seq 200); do xdotool key Right; sleep 0.05; done) &
hand=$!
sleep 4
kill -9 "$window"
kill "$hand" 2>/dev/null || true
wait "$window" 2>/dev/null || true
cp "$(record)" "$home/last.json" || fail "nothing is kept after the kill"

start
# The offer stands over the window with the focus on restoring.
press Return
sleep 0.5
press ctrl+s
wait_for 5 is_saved || fail "the restored work was not saved"
press ctrl+q
wait_for 5 has_ended || fail "the program does not end"
wait "$window" || fail "the program ended with status $?"
window=
[ -z "$(record)" ] || fail "saved work is still kept as unsaved"

python3 - "$home" <<'END' || fail "the work is not what it was"
import json, sys

home = sys.argv[1]
read = lambda name: json.load(open(f"{home}/{name}"))
first, last, saved = read("first.json"), read("last.json"), read("design.json")
before = json.loads(last["as_saved"])
assert json.loads(last["text"]) == saved, "the saved file is not the work that was kept"
assert saved != before, "nothing was changed"
assert json.loads(first["text"]) != saved, "what followed the first change was not kept"
assert last["path"] == f"{home}/design.json", last["path"]
print("recovery: restored after", last["last_step"])
END
