#!/bin/sh
# Installs the program with its desktop entry, icon and file type; with -u removes them again.
# usage: assets/install.sh [-u] [PREFIX [PROGRAM]]   (default: ~/.local, target/release/vialwright)
# DESTDIR is put before PREFIX, for packages.
set -eu
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
remove=
if [ "${1:-}" = -u ]; then
    remove=1
    shift
fi
prefix=${1:-$HOME/.local}
program=${2:-$here/../target/release/vialwright}
root=${DESTDIR:-}$prefix

put() { # mode source target
    if [ -n "$remove" ]; then
        rm -f "$root/$3"
    else
        mkdir -p "$(dirname "$root/$3")"
        install -m "$1" "$2" "$root/$3"
    fi
}
put 755 "$program" bin/vialwright
put 644 "$here/vialwright.desktop" share/applications/vialwright.desktop
put 644 "$here/vialwright-mime.xml" share/mime/packages/vialwright.xml
put 644 "$here/icon.svg" share/icons/hicolor/scalable/apps/vialwright.svg
put 644 "$here/icon.png" share/icons/hicolor/256x256/apps/vialwright.png

# The desktop's own lists; where a tool is missing the desktop brings them up to date itself, or knows none.
if [ -z "${DESTDIR:-}" ]; then
    for refresh in "update-mime-database $root/share/mime" "update-desktop-database -q $root/share/applications"; do
        if command -v "${refresh%% *}" >/dev/null 2>&1 && [ -d "${refresh##* }" ]; then
            $refresh >/dev/null 2>&1 || true
        fi
    done
fi
