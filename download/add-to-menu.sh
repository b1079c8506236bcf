#!/bin/sh
# Adds clipmark to your own desktop menu: one entry that points to this folder, and its icon. Nothing else is changed.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
data=${XDG_DATA_HOME:-$HOME/.local/share}
mkdir -p "$data/applications" "$data/icons/hicolor/scalable/apps"
cp "$here/clipmark.svg" "$data/icons/hicolor/scalable/apps/clipmark.svg"
sed "s|^Exec=.*|Exec=\"$here/clipmark-window\" %F|" "$here/clipmark.desktop" > "$data/applications/clipmark.desktop"
echo "clipmark is in the menu now. To take it out: rm $data/applications/clipmark.desktop"
