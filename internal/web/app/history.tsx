import { useGet } from './api'
import { useHead } from './card'
import { BinnedHead, Story, Tabs } from './edit'
import { headNav, Sheet, Trouble } from './kit'
import type { Happening, Picture } from './types'

/** What happened to a head: who, when, and what changed in words. */
export function History({ id }: { id: string }) {
  const { data, again } = useHead(id)
  const log = useGet<{ events: Happening[]; pictures: Picture[] }>(`heads/${id}/history`, c => c.job === id || c.id === id || c.kind === 'test' || c.kind === 'observed')
  if (!data) return null
  return (
    <Sheet number={data.head.number} title="history" line="history" nav={headNav(id, 'sizes')}>
      <BinnedHead head={data.head} again={again} />
      <div class="narrow wide2">
        <Tabs id={id} here="history" />
        <Trouble wrong={log.wrong} />
        {log.data && <Story events={log.data.events} link={`#/heads/${id}/ports/`} />}
        {log.data && log.data.pictures.length > 0 && <><h2>Photos and notes of ports taken out</h2><ul class="pictures">{log.data.pictures.map(p => <li><a href={p.url}>{p.shown && !p.sound ? <img src={p.url} alt={p.note || p.name} loading="lazy" /> : p.name}</a><span class="cap">{p.when}, {p.note}</span></li>)}</ul></>}
      </div>
    </Sheet>
  )
}
