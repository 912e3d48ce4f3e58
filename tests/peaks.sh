#!/usr/bin/env bash
# The true peak of everything at once at full level, read by two programs that share nothing with the engine: scipy's resampling (polyphase
# Kaiser) and sox's, both eight times over. Fails above -1 dBTP.
# Needs: sox; python3 with numpy, scipy and soundfile. Use: tests/peaks.sh
set -euo pipefail
cd "$(dirname "$0")/.."
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
PEAKS_WAV=$folder/loud.wav cargo test --quiet --test tests -- --exact render::levels::true_peak_stays_under_minus_one_with_everything_at_full_level
sox "$folder/loud.wav" -e floating-point -b 32 "$folder/eight.wav" rate -v 384000
python3 - "$folder" <<'PYTHON'
import sys
import numpy, soundfile
from scipy.signal import resample_poly

folder = sys.argv[1]
sound, _ = soundfile.read(f"{folder}/loud.wav")
eight, _ = soundfile.read(f"{folder}/eight.wav")
peaks = {"scipy": numpy.abs(resample_poly(sound, 8, 1, axis=0)).max(), "sox": numpy.abs(eight).max()}
decibels = {name: 20 * numpy.log10(peak) for name, peak in peaks.items()}
for name, level in decibels.items():
    print(f"{name}: {level:.2f} dBTP")
sys.exit(0 if all(level <= -1.0 for level in decibels.values()) else 1)
PYTHON
