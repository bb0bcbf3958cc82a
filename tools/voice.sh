#!/usr/bin/env bash
# voice.sh makes the recorded words again: internal/web/assets/voice/*.mp3 from
# words.txt beside them, one phrase a line, and then listens to each by machine.
# voice.sh --check only listens. What speaks is espeak-ng, a program of its own:
# only the sound it makes is kept. They are committed; nothing else needs it.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
"$here/need.sh" ffmpeg ffmpeg
to=$here/../internal/web/assets/voice
loud=-19    # dB below full scale, mean of each clip
most=307200 # bytes, all of them
slug() { tr ' ' '-' <<<"${1//\'/}"; }
mean() { ffmpeg -nostdin -hide_banner -i "$1" -af volumedetect -f null - 2>&1 | sed -n 's/.*mean_volume: \(-\?[0-9.]*\) dB/\1/p'; }

if [ "${1:-}" != --check ]; then
	"$here/need.sh" espeak-ng espeak-ng
	temp=$(mktemp -d)
	trap 'rm -rf "$temp"' EXIT
	rm -f "$to"/*.mp3
	quiet='silenceremove=start_periods=1:start_threshold=-45dB:detection=peak'
	while read -r words; do
		espeak-ng -v en-gb -s 170 -p 42 -w "$temp/said.wav" "$words"
		ffmpeg -nostdin -v error -y -i "$temp/said.wav" -af "$quiet,areverse,$quiet,areverse,afade=t=in:d=0.004" "$temp/cut.wav"
		gain=$(awk -v m="$(mean "$temp/cut.wav")" -v l=$loud 'BEGIN { print l - m }')
		ffmpeg -nostdin -v error -y -i "$temp/cut.wav" -af "volume=${gain}dB,alimiter=limit=0.9:level=false" -map_metadata -1 -fflags +bitexact -flags:a +bitexact \
			-ac 1 -ar 22050 -c:a libmp3lame -b:a 24k "$to/$(slug "$words").mp3"
	done <"$to/words.txt"
fi

total=0 bad=0 n=0
while read -r words; do
	clip=$to/$(slug "$words").mp3
	[ -f "$clip" ] || { echo "voice: no clip of \"$words\": run tools/voice.sh" >&2; bad=1; continue; }
	seconds=$(ffprobe -v error -show_entries format=duration -of csv=p=0 "$clip")
	level=$(mean "$clip")
	awk -v s="$seconds" -v l="$level" -v want=$loud 'BEGIN { exit !(s > 0.15 && s < 1.4 && l > want - 4 && l < want + 3) }' || { echo "voice: \"$words\": $seconds s, mean $level dB" >&2; bad=1; }
	total=$((total + $(stat -c %s "$clip"))) n=$((n + 1))
done <"$to/words.txt"
echo "voice: $n clips, $total bytes"
[ $total -le $most ] || { echo "voice: more than $most bytes" >&2; bad=1; }
exit $bad
