#!/bin/sh
# Takes pictures of the window on a virtual screen, driven by pointer and keys as a person would.
# usage: tests/window/shots.sh [PROGRAM [FOLDER]]   (default: target/release/vialwright, assets)
# Writes screenshot-light.png, screenshot-dark.png (1280x800), and with ALL=1 further sizes.
# Debian packages: xvfb xauth xdotool openbox imagemagick libgl1-mesa-dri libgl1 libegl1 libxkbcommon-x11-0
# libxcursor1 libxi6 libx11-xcb1
set -eu
program=${1:-target/release/vialwright}
folder=${2:-assets}
home=$(mktemp -d)
screen=
manager=
window=
finish() {
    for process in $window $manager $screen; do kill "$process" 2>/dev/null || true; done
    rm -rf "$home"
}
trap finish EXIT

HOME=$home XDG_RUNTIME_DIR=$home
export HOME XDG_RUNTIME_DIR
unset WAYLAND_DISPLAY DBUS_SESSION_BUS_ADDRESS || true
number=97
while [ -e "/tmp/.X11-unix/X$number" ]; do number=$((number + 1)); done
DISPLAY=:$number
export DISPLAY
Xvfb "$DISPLAY" -screen 0 2600x1500x24 -nolisten tcp >/dev/null 2>&1 &
screen=$!
sleep 1
openbox >/dev/null 2>&1 &
manager=$!
sleep 1
"$program" ${DESIGN:+"$DESIGN"} >"$home/output" 2>&1 &
window=$!
id=
for _ in $(seq 50); do
    id=$(xdotool search --onlyvisible --name 'Vialwright$' 2>/dev/null | head -n 1) && [ -n "$id" ] && break
    sleep 0.2
done
[ -n "$id" ] || { cat "$home/output" >&2; echo "no window" >&2; exit 1; }
xdotool windowactivate --sync "$id"

shoot() { # name width height
    xdotool windowsize --sync "$id" "$2" "$3"
    sleep 0.8
    import -window "$id" -depth 8 -strip "$folder/$1.png"
}
press() { xdotool key --delay 30 "$@"; sleep 0.3; }

xdotool windowsize --sync "$id" 1280 800
sleep 0.5
# Choose a vessel by its row in the ledger, then type a tilt at which the liquid runs over.
xdotool mousemove --window "$id" 1010 ${ROW:-585} click 1
sleep 0.3
xdotool mousemove --window "$id" 90 783 click 1
sleep 0.3
press ctrl+a
xdotool type --delay 30 -- "${TILT:--28}"
press Return
press ctrl+shift+l
xdotool mousemove --window "$id" 150 700
sleep 1
shoot screenshot-light 1280 800
press ctrl+shift+d
shoot screenshot-dark 1280 800
if [ "${ALL:-}" = 1 ]; then
    shoot dark-1024 1024 640
    shoot dark-2560 2560 1440
    press ctrl+shift+l
    shoot light-1024 1024 640
    shoot light-2560 2560 1440
fi
xdotool key --window "$id" ctrl+q
