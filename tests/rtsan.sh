#!/usr/bin/env bash
# RealtimeSanitizer over the renderer's callback: no allocation, no free, no lock, no system call, whatever is done to it. First it is made
# to bite on a program that allocates on purpose, then a class led at random is played. Stable Rust carries the sanitizer's runtime for
# Linux and macOS, so nothing else is needed.
#
# It does not see a lock that is free at the time (std's Mutex takes that without a call): those are kept out by review.
#
# usage: tests/rtsan.sh [MINUTES [SEED]]     (10 minutes of sound)
set -euo pipefail
cd "$(dirname "$0")/rtsan"
host=$(rustc -vV | sed -n 's/^host: //p')
runtimes=("$(rustc --print sysroot)/lib/rustlib/$host/lib/"*rtsan.*)
export RTSAN_ENABLE=1 RTSAN_LIB_PATH=${runtimes[0]}
cargo build --release --locked
target=$(cargo metadata --format-version 1 --no-deps --offline | sed 's/.*"target_directory":"\([^"]*\)".*/\1/')
if "$target/release/rtsan" prove 2>/dev/null; then
  echo "the sanitizer let an allocation pass: it is not at work" >&2
  exit 1
fi
echo "the sanitizer bites"
"$target/release/rtsan" "${1:-10}" "${2:-1}"
