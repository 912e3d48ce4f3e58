#!/usr/bin/env bash
# Our voices beside general-purpose engines, in one run on this machine: FluidSynth, rustysynth, scsynth and a fundsp graph. Installs them
# (Debian, Ubuntu), builds them, measures in turn and prints the ratios; leaves with 1 if one is missed.
#
# usage: benches/peers.sh [ROUNDS]      (5; a round takes half a minute)
set -euo pipefail
cd "$(dirname "$0")/peers"

missing=()
for package in fluidsynth libfluidsynth-dev timgm6mb-soundfont supercollider-server gcc pkg-config python3; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing+=("$package")
done
if [ ${#missing[@]} -gt 0 ]; then
  as_root=()
  [ "$(id -u)" = 0 ] || as_root=(sudo)
  "${as_root[@]}" apt-get update
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${missing[@]}"
fi

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
# ours as it ships, choosing its instructions as it runs; theirs built for this very processor
cargo build --release --locked
RUSTFLAGS='-C target-cpu=native' cargo build --release --locked --target-dir "$scratch/native"
target=$(cargo metadata --format-version 1 --no-deps | python3 -c 'import json, sys; print(json.load(sys.stdin)["target_directory"])')
# shellcheck disable=SC2046
gcc -O2 -o "$scratch/fluid" fluid.c $(pkg-config --cflags --libs fluidsynth)
python3 compare.py "$target/release/peers" "$scratch/native/release/peers" "$scratch/fluid" /usr/share/sounds/sf2/TimGM6mb.sf2 "${1:-5}"
