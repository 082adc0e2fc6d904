#!/bin/sh
# Takes pictures of the real window on a virtual screen, driven by keys alone.
# usage: tests/window/shots.sh [PROGRAM [FOLDER]]   (default: target/release/vialwright, assets)
# Writes screenshot-light.png and -dark.png (1280x800), screenshot-large-light.png and -dark.png (2560x1440); with ALL=1 also
# every page of the shelf, the dialogs, small windows and large text in both colours. Fails when a picture is missing,
# has another size, or shows one colour. Debian packages: xvfb xdotool openbox imagemagick libgl1-mesa-dri libgl1
# libegl1 libxkbcommon-x11-0 libxcursor1 libxi6 libx11-xcb1
set -eu
cd "$(dirname "$0")/../.."
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
fail() {
    echo "shots: $*" >&2
    cat "$home/output" >&2 || true
    exit 1
}

HOME=$home XDG_RUNTIME_DIR=$home
export HOME XDG_RUNTIME_DIR
unset XDG_DATA_HOME XDG_CONFIG_HOME WAYLAND_DISPLAY DBUS_SESSION_BUS_ADDRESS || true
number=97
while [ -e "/tmp/.X11-unix/X$number" ]; do number=$((number + 1)); done
DISPLAY=:$number
export DISPLAY
Xvfb "$DISPLAY" -screen 0 2700x1600x24 -nolisten tcp >/dev/null 2>&1 &
screen=$!
sleep 1
openbox >/dev/null 2>&1 &
manager=$!
sleep 1
"$program" examples/rubidium-six.json >"$home/output" 2>&1 &
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

press() { xdotool key --delay 40 "$@"; sleep "${PAUSE:-0.3}"; }
act() { # WORDS: does the one action that they name
    press ctrl+k
    sleep "${PAUSE:-0.3}"
    xdotool type --delay 15 "$1"
    sleep 0.3
    press Return
}
size() { # WIDTH HEIGHT
    xdotool windowsize --sync "$id" "$1" "$2"
    sleep "${SETTLE:-1.5}"
}
colours=256
shoot() { # NAME
    sleep "${PAUSE:-0.3}"
    # A few colours hold a drawing with its text; the window's dithering would only make the file large.
    import -window "$id" -depth 8 +dither -colors "$colours" -strip -define png:compression-level=9 \
        -define png:compression-filter=0 "$folder/$1.png"
    [ "$(identify -format '%k' "$folder/$1.png")" -gt 1 ] || fail "$1 shows one colour"
}
in_both() { # NAME
    press ctrl+shift+l
    shoot "$1-light"
    press ctrl+shift+d
    shoot "$1-dark"
}

mkdir -p "$folder"
size 1280 800
# The hint goes with the first use. The second vial is chosen, and the glass turned until liquid runs over.
press F6
for _ in 1 2 3 4 5; do press shift+n; done
# From the bench backwards over the menus to the foot of the window, and to its first field.
press shift+F6
press shift+F6
press Tab
press ctrl+a
xdotool type --delay 60 -- "-28"
press Return
xdotool mousemove --window "$id" 160 60
in_both screenshot
size 2560 1440
press f
colours=64
in_both screenshot-large
colours=256
for colour in light dark; do
    [ "$(identify -format '%wx%h' "$folder/screenshot-$colour.png")" = 1280x800 ] || fail "the size in $colour"
    [ "$(identify -format '%wx%h' "$folder/screenshot-large-$colour.png")" = 2560x1440 ] || fail "the large size in $colour"
done

if [ "${ALL:-}" = 1 ]; then
    size 1280 800
    press f
    for page in p:plots g:findings ctrl+shift+f:find w:job; do
        press "${page%%:*}"
        sleep 3
        in_both "page-${page#*:}"
    done
    press w
    press d
    in_both dimensions
    press d
    # What stands over the window takes its keys: it is shut before the colours are changed.
    for colour in l:light d:dark; do
        press "ctrl+shift+${colour%%:*}"
        press ctrl+shift+n
        shoot "starter-${colour#*:}"
        press Escape Escape
        press ctrl+k
        shoot "actions-${colour#*:}"
        press Escape
        act "about"
        shoot "about-${colour#*:}"
        press Escape
    done
    size 1024 640
    press f
    in_both small
    press g
    in_both small-findings
    press g
    for _ in $(seq 10); do press ctrl+plus; done
    size 2048 1280
    in_both scaled-200
    for _ in 1 2 3 4 5; do press ctrl+plus; done
    size 2560 1440
    in_both scaled-250
fi
press ctrl+q
