#!/usr/bin/env bash
# A private PulseAudio for tests: its loudspeaker is a null sink called "room", its microphone, "mic", hears what is played into the sink
# "micfeed". Works as root, without systemd, D-Bus or a sound
# card, and never touches another server. Debian and Ubuntu: apt-get install pulseaudio pulseaudio-utils libasound2-plugins
#
# SOUND_SERVER_FIFO=40 in the environment gives it the real-time class FIFO with that priority, where the machine allows it.
#
# usage: sound-server.sh start|stop|kill|hang|wake|env DIR      (DIR: a scratch folder of the caller's; "env" only writes DIR/env)
set -u
cmd=${1:?start, stop, kill, hang, wake or env} dir=${2:?a scratch folder}
pid=$(cat "$dir/server.pid" 2>/dev/null)

# nobody may reap the server: a zombie counts as dead
alive() { [ -r "/proc/$1/stat" ] && [ "$(sed 's/.*) //' "/proc/$1/stat" | cut -c1)" != Z ]; }
signal() { [ -n "$pid" ] && kill "-$1" "$pid" 2>/dev/null; }
wait_for_end() { for _ in $(seq 100); do alive "${pid:-none}" || return 0; sleep 0.02; done; }

mkdir -p "$dir/rt" "$dir/home" "$dir/state"
chmod 700 "$dir/rt" "$dir/home"
cat > "$dir/env" <<END
XDG_RUNTIME_DIR=$dir/rt
PULSE_RUNTIME_PATH=$dir/rt/pulse
PULSE_STATE_PATH=$dir/state
PULSE_CONFIG_PATH=$dir/home
PULSE_COOKIE=$dir/home/cookie
PULSE_SERVER=unix:$dir/native
ALSA_CONFIG_PATH=$dir/asound.conf
END
cat > "$dir/asound.conf" <<END
<confdir:pcm/default.conf>
pcm.!default { type pulse  hint { show on  description "the private server" } }
ctl.!default { type pulse }
END
set -a
. "$dir/env"
set +a

case $cmd in
env) ;;
start)
  # the protocol comes last, so that whoever can connect finds the loudspeaker
  # norewinds: an idle null sink would else render two seconds ahead, and the first stream after idleness wait as long
  rm -f "$dir/native"
  setsid pulseaudio --daemonize=no --exit-idle-time=-1 --disallow-exit=1 --use-pid-file=no --high-priority=no --realtime=no \
    --log-target=file:"$dir/log" --log-level=notice -n \
    -L "module-null-sink sink_name=room rate=48000 channels=2 format=float32le norewinds=1 sink_properties=device.description=room" \
    -L "module-null-sink sink_name=micfeed rate=48000 channels=1 format=float32le channel_map=mono norewinds=1" \
    -L "module-remap-source source_name=mic master=micfeed.monitor channels=1 channel_map=mono master_channel_map=mono remix=no" \
    -L "module-native-protocol-unix socket=$dir/native auth-anonymous=1" \
    </dev/null >"$dir/out" 2>&1 &
  echo $! > "$dir/server.pid"
  for _ in $(seq 200); do pactl info >/dev/null 2>&1 && break; sleep 0.01; done
  # only now: the server drops a class it inherits
  [ -z "${SOUND_SERVER_FIFO:-}" ] || chrt -a -f -p "$SOUND_SERVER_FIFO" "$(cat "$dir/server.pid")" || exit 1
  pactl set-default-sink room && pactl set-default-source mic || exit 1
  ;;
stop) signal CONT; signal TERM; wait_for_end ;;
kill) signal KILL; wait_for_end ;;
hang) signal STOP ;;
wake) signal CONT ;;
*) echo "unknown command $cmd" >&2; exit 2 ;;
esac
exit 0
