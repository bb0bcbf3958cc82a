// The sheet Phone: lets a phone on the home network in, and says what a page over
// plain HTTP can't do.
import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { call, useGet, words, Wrong } from './api'
import { Drawing, home, Say, Sheet, Trouble } from './kit'
import type { Device, Phone as Data } from './types'

export function Phone({ to }: { to: string }) {
  const query = to && '?to=' + encodeURIComponent(to) // the sheet a paired phone is to open
  const { data, wrong, put, again } = useGet<Data>('phone' + query, c => c.kind === 'settings')
  const trouble = useSignal<Wrong | null>(null)
  const shown = useSignal(0)
  // The code runs out, and who is here comes and goes, without a change of the records.
  useEffect(() => {
    const t = setInterval(again, 3000)
    return () => clearInterval(t)
  }, [])
  const ask = (way: string, body: unknown) => call<Data>('POST', way + query, body).then(d => ((trouble.value = null), put(d)), e => (trouble.value = e))
  if (!data) return <Sheet number="Phone" title="" nav={home('phone')}><Trouble wrong={wrong} /></Sheet>
  if (!data.here) return <Guest data={data} leave={() => call('POST', 'phone/forget', { id: data.device!.id }).then(() => location.assign('/pair'), e => (trouble.value = e))} wrong={trouble.value} />
  const at = data.addresses[shown.value] ?? data.addresses[0]
  const open = data.on || data.outside
  return (
    <Sheet number="Phone" title="on the home network" line={open ? 'let in' : 'not let in'} nav={home('phone')}>
      <div class="split">
        <section class="left phone">
          <h2>{data.outside ? 'Other machines are let in' : data.on ? 'Phones on this network are let in' : 'Phones are not let in'}</h2>
          {!data.on && <ul class="steps warn">{data.warning.map(w => <li><Say>{w}</Say></li>)}</ul>}
          {data.outside ? <p>The program was started with <b>--listen</b> on an address that others reach. They have to be paired too. Start it without to switch here.</p>
            : data.can ? <button type="button" class={'button tall wide' + (data.on ? '' : ' red')} data-enter={!data.on || undefined} aria-pressed={data.on} onClick={() => ask('phone', { on: !data.on })}>{data.on ? 'Switch off, end what is open' : 'Let phones on this network in'}</button>
              : <p>This program can’t listen on a network.</p>}
          <Trouble wrong={trouble.value ?? wrong} />
          {data.on && <p class="cap">{data.stays}</p>}
          {data.on && <p class="cap"><Say>{data.warning[1]}</Say></p>}
          {data.on && at?.sheet_qr && data.devices.length > 0 && <>
            <h2 class="gap">Show it on a paired phone</h2>
            <p class="cap">Point its camera at this square, or open <b class="url">{at.sheet}</b></p>
            <div class="qr"><Drawing svg={at.sheet_qr} /></div>
          </>}
          <h2 class="gap">Paired devices</h2>
          {data.devices.length ? <ul class="devices">{data.devices.map(d => <DeviceLine device={d} forget={() => ask('phone/forget', { id: d.id })} />)}</ul> : <p class="cap">None yet.</p>}
        </section>
        <section class="right phone">
          {open ? <>
            <h2>Pair a phone</h2>
            {at && <>
              <ol class="steps"><li>Join the phone to the same network.</li><li>Point its camera at the square, or open<br /><b class="url">{at.url}</b></li><li>{data.code ? 'The square brings the code along; else type it.' : 'Make a code and type it where it is asked for.'}</li></ol>
              <div class="qr"><Drawing svg={at.qr} /></div>
              {data.addresses.length > 1 && <><p class="cap">If the phone finds nothing there, the computer has other addresses too:</p><div class="row">{data.addresses.map((a, i) => <button type="button" class="button" aria-pressed={a === at} onClick={() => (shown.value = i)}>{a.url.slice(7, -1)}</button>)}</div></>}
            </>}
            {data.code
              ? <p class="code"><span class="cap">Code, for one phone, {minutes(data.code.left)}</span><b>{data.code.text}</b>{data.code.tries < 5 && <span class="cap">{data.code.tries} {data.code.tries === 1 ? 'try' : 'tries'} left</span>}</p>
              : <p class="code"><span class="cap">No code is waiting: it was used, ran out, or was tried wrongly too often.</span></p>}
            <button type="button" class={'button' + (data.code ? '' : ' red')} data-enter={!data.code || undefined} onClick={() => ask('phone/code', {})}>New code</button>
          </> : <>
            <h2>What a phone can’t do at such an address</h2>
            <Plain />
          </>}
        </section>
      </div>
    </Sheet>
  )
}

const minutes = (s: number) => (s > 90 ? `${Math.ceil(s / 60)} minutes left` : `${s} s left`)

function DeviceLine({ device, forget }: { device: Device; forget: () => void }) {
  return <li><span><b>{device.name}</b><span class="cap">paired {device.when}, {device.seen}</span></span><button type="button" class="button" aria-label={'Forget ' + device.name} onClick={forget}>Forget</button></li>
}

/** What the browser keeps from a page that came over plain HTTP, and the other way. */
function Plain() {
  const p = words.value!.plain
  return <ul class="steps warn">{['screen', 'microphone', 'camera', 'speech'].map(k => <li><Say>{p[k]}</Say></li>)}</ul>
}

function Guest({ data, leave, wrong }: { data: Data; leave: () => void; wrong: Wrong | null }) {
  return (
    <Sheet number="Phone" title="this device" line="this device" nav={home('phone')}>
      <div class="narrow">
        <h2>{data.device!.name}</h2>
        <p>Paired {data.device!.when}. It sees and changes the same records as the computer. Phones are let in and forgotten at the computer, on this sheet.</p>
        {!isSecureContext && <><h2>What can’t be done at this address</h2><Plain /></>}
        <Trouble wrong={wrong} />
        <button type="button" class="button" onClick={leave}>Forget this device</button>
      </div>
    </Sheet>
  )
}
