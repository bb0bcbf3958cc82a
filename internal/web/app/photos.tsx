// Photos as the phone makes them, and spoken notes, kept byte for byte.
import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { send, words, Wrong } from './api'
import { Field, Say, Trouble } from './kit'
import type { Picture } from './types'

const size = (n: number) => (n < 1e6 ? `${Math.max(1, Math.round(n / 1e3))} kB` : `${(n / 1e6).toFixed(1)} MB`)

export function Pictures({ id, port, all, done }: { id: string; port: string; all: Picture[]; done: () => void }) {
  const wrong = useSignal<Wrong | null>(null)
  const note = useSignal('')
  const part = useSignal(-1) // of the file that is sent; below 0: nothing is
  const stop = useRef<() => void>(() => {})
  const rec = useRef<MediaRecorder | null>(null)
  const talking = useSignal(-1) // seconds
  const canTalk = isSecureContext && !!navigator.mediaDevices && 'MediaRecorder' in window
  const hand = matchMedia('(pointer: coarse)').matches // a phone offers its camera
  const put = (file: Blob, name: string) => {
    const f = new FormData()
    f.append('port', port)
    f.append('note', note.value)
    f.append('file', file, name)
    wrong.value = null
    part.value = 0
    const s = send(`heads/${id}/pictures`, f, p => (part.value = p))
    stop.current = s.stop
    s.done.then(() => ((note.value = ''), done()), e => (wrong.value = e)).then(() => (part.value = -1))
  }
  const talk = async () => {
    if (rec.current) return rec.current.stop()
    try {
      const s = await navigator.mediaDevices.getUserMedia({ audio: true })
      const r = (rec.current = new MediaRecorder(s))
      const parts: Blob[] = []
      const began = performance.now()
      const timer = setInterval(() => (talking.value = Math.floor((performance.now() - began) / 1000)), 250)
      r.ondataavailable = e => parts.push(e.data)
      r.onstop = () => {
        clearInterval(timer)
        s.getTracks().forEach(t => t.stop())
        rec.current = null
        talking.value = -1
        const kind = r.mimeType.split(';')[0]
        put(new Blob(parts, { type: kind }), 'spoken note.' + (kind === 'audio/ogg' ? 'ogg' : kind === 'audio/mp4' ? 'm4a' : 'webm'))
      }
      r.start()
      talking.value = 0
    } catch {
      wrong.value = new Wrong(0, 'The microphone was not given.', 'Allow it in the browser, or send a sound file.', [])
    }
  }
  const busy = part.value >= 0
  const file = (label: string, accept: string, camera?: boolean) => (
    <label class={'button file' + (busy ? ' busy' : '')}>{label}<input type="file" accept={accept} capture={camera ? 'environment' : undefined} disabled={busy} onChange={e => {
      const i = e.target as HTMLInputElement
      const f = i.files?.[0]
      i.value = '' // so that the same file can be chosen again
      if (f) put(f, f.name)
    }} /></label>
  )
  const seen = all.filter(p => !p.sound), heard = all.filter(p => p.sound)
  return (
    <div class="block photos"><h3>Photos and spoken notes</h3>
      {seen.length > 0 && <ul class="pictures">{seen.map(p => <li>{p.shown ? <a href={p.url}><img src={p.url} alt={p.note || p.name} loading="lazy" /></a> : <a class="plainfile" href={p.url} download={p.name}><b>{p.name}</b><span>{size(p.size)}, kept as it came. Browsers can’t show it.</span></a>}<p class="cap">{p.note && <b>{p.note}. </b>}{p.when}</p></li>)}</ul>}
      {heard.length > 0 && <ul class="sounds">{heard.map(p => <li><p class="cap">{p.note && <b>{p.note}. </b>}{p.when}</p>{p.shown ? <audio controls preload="metadata" src={p.url} aria-label={p.note || p.name} /> : <a class="plainfile" href={p.url} download={p.name}><b>{p.name}</b><span>{size(p.size)}, kept as it came</span></a>}</li>)}</ul>}
      <Field label="Note to the next one" value={note.value} onValue={v => (note.value = v)} guess="skip" />
      {busy ? <div class="row"><progress max={1} value={part.value} aria-label="Sent so far" /> <span>{Math.round(part.value * 100)} %</span> <button type="button" class="button" onClick={() => stop.current()}>Stop</button></div>
        : <div class="row">
          {hand && file('Take a photo', 'image/jpeg,image/png', true)}
          {file(hand ? 'Choose a photo' : 'Add a photo', 'image/jpeg,image/png')}
          {canTalk ? <button type="button" class={'button' + (talking.value >= 0 ? ' ink' : '')} onClick={talk}>{talking.value >= 0 ? `Stop and keep, ${talking.value} s` : 'Speak a note'}</button> : file('Add a sound', 'audio/*')}
        </div>}
      {!canTalk && <p class="cap"><Say>{words.value!.plain.microphone + ' ' + words.value!.plain.camera}</Say></p>}
      {wrong.value?.fields.map(f => <p class="fault" role="alert"><b><Say>{f.what}</Say></b> <Say>{f.maybe}</Say></p>)}
      <Trouble wrong={wrong.value} />
    </div>
  )
}
