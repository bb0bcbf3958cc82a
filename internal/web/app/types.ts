// What the API gives, as docs/api.md has it.
export interface FieldFault { field: string; what: string; maybe?: string; ask?: boolean }
export interface Change { seq: number; kind: string; id: string; job: string; rev: number }
export interface Word { code: string; word: string; short?: string; many?: string; hint?: string }
export interface Words {
  version: string; states: Word[]; held: Word[]; wet: Word[]; guide: Word[]; answer: Word[]; condition: Word[]; work: Word[]
  sources: Word[]; layouts: Word[]; ports: Word[]; coatings: Word[]; places: Word[]; plugs: Word[]; limits: Word[]; counts: Word[]; checks: Word[]; sides: Word[]; calls: Record<string, string>; voice: Record<string, string>; spoken: Record<string, string>; plain: Record<string, string>
  units: Record<string, string[]>; cautions: string[]
}
export interface Conditions { held: string; wet_with: string; guide: string; turned: boolean; placed: boolean; plugged: string; state: string; masked?: string[] | null }
export interface Settings { rev: number; vacuum_unit: string; sound: string; initials: string; owner: string; rig: string; conditions: Conditions }
export interface Device { id: string; name: string; when: string; seen: string }
export interface Phone {
  here: boolean; device?: Device; can: boolean; on: boolean; outside: boolean; warning: string[]; stays: string
  addresses: { url: string; network: string; qr: string; sheet?: string; sheet_qr?: string }[]; code: { text: string; until: number; left: number; tries: number } | null; devices: Device[]
}
export interface Shown { text: string; value: number; spread: number; unit: string; guessed?: boolean }
export interface Lie { said: boolean; chambers_up: boolean; first_left: boolean; intake_away: boolean; landmark: string }
export interface Port { id: string; name: string; short: string; cylinders: number[]; side: string; part: string; valves: string[]; plugs: string[]; volume: Shown | null }
export interface Valve { id: string; name: string; cylinder: number; side: string; place: string; head_diameter: Shown | null; stem_diameter: Shown | null; contact_width: Shown | null; seat_angle: Shown | null; face_angle: Shown | null; guide_length: Shown | null; guide_clearance: Shown | null; seal: string; coating: string }
export interface Engine {
  kind: string; cylinders: number; numbers: number[]; same_side: boolean; bore: Shown | null; stroke: Shown | null; rod: Shown | null; chamber: Shown | null
  compression_ratio: Shown | null; intake_closes: Shown | null; cranking: Shown | null; idle: Shown | null; top_speed: Shown | null
}
export interface Happening { at: number; when: string; by: string; kind: string; id: string; rev: number; words: string; port: string; changes: { of: string; what: string; was: string; is: string }[] }
export interface Head {
  id: string; rev: number; by: string; says: string; binned: boolean; number: string; title: string; owner: string; initials: string; opened: number; notes: string; invented: boolean
  engine: Engine
  lie: Lie; ports: Port[]; valves: Valve[]; limit: { flow: Shown | null; gap: Shown | null; strict: boolean; cost: Shown | null; no_cost: boolean; basis: string; drop: Shown | null; good: string }; rig: string
}
export interface Count { state: string; n: number; word: string }
export interface Row {
  port: string; name: string; short: string; state: string; word: string; leak: string; again: string; this: string; of: string
  limit: string; limit_by: string; beside: string; ground: string; chance: string; lapsed: string; tests: number; why: string; reason: string; blame: string; sign_off: boolean; off: string[]; odd: string; rank: string; aside: Record<string, string>
}
export interface Next { kind: string; valves: string[]; port: string; head: string; words: string; reason: string; expect: string; do: string }
export interface Named { name: string; words: string }
export interface Card { line: string; counts: Count[]; rows: Row[]; next: Next[]; result: string; unit: string; lie: string; title_block: Named[]; rev: number; checked: boolean }
export interface Both { head: Head; card: Card; plan?: Plan }
export interface HeadRow { id: string; rev: number; number: string; title: string; owner: string; when: string; invented: boolean; ports: number; counts: Count[]; line: string }
export interface Message { what: string; do: string }
export interface Reading {
  state: string; word: string; line: string; leak: string; this: string; again: string; lost: string; refusal: Message | null
  warnings: Message[]; guessed: string[]; budget: { input: string; share: number; percent: string }[]; version: string
}
export interface Test {
  id: string; rev: number; binned: boolean; job: string; head: string; port: string; port_name: string; at: number; when: string; by: string; source: string
  source_word: string; rig: string; check: string; conditions: Conditions; how: string; trace: string; beside: { gauge: string; trace: string }[]; columns: string; note: string; reading: Reading
}
export type Point = [number, number]
export interface Chart { unit: string; traces: { test: string; name: string; points: Point[]; hand: boolean }[]; fit: Point[]; low: Point[]; high: Point[]; limits: { words: string; points: Point[] }[]; fitted: string }
export interface Work { id: string; valves: string[] | null; at: number; when: string; by: string; kind: string; word: string; note: string; on: string[] }
export interface Picture { id: string; port: string; name: string; type: string; size: number; note: string; when: string; shown: boolean; sound: boolean; url: string }
export interface Opening { name: string; state: string; word: string; leak: string; interval: string; says: string; bar: { low: number; median: number; high: number; limit: number } | null }
export interface Apart {
  title: string; tests: string; clash: string; openings: Opening[]; scale: string; plan: { words: string; first: string; mask: string[]; do: string } | null
  guide: { words: string; basis: string } | null; advice: { label: string; head: string; kind: string; words: string; grounds: { words: string; tests: string[]; said: string }[] } | null
}
export interface PortSheet {
  head: { id: string; rev: number; number: string; title: string; rig: string }; port: Port; row: Row; question: string; tests: Test[]; chart: Chart; intervals: string
  limits: { words: string; both: string; one: string; all: string; over_one: string; over_all: string; taken: string; rows: { kind: string; words: string; one: string; all: string; decides: boolean; counts: boolean; reason: string; means: string[] }[] }; sources: { figure: string; formula: string; inputs: string; source: string }[]
  narrow: { words: string; rig: string } | null; detail: Named[]; budget: { input: string; percent: string; share: number }[]; notes: Message[]; guessed: string[]; next: Next | null; work: Work[]; pictures: Picture[]
  others: { port: string; name: string }[] | null; apart: Apart | null; title_block: Named[]; unit: string
}
export interface Rig {
  id: string; rev: number; name: string; file: string; line: string; blunt: string; gauge: { kind: string; unit: string; division: string; step: number }
  fields: { key: string; name: string; text: string; unit: string; hint: string; checked: string }[]; checks: { id: string; at: number; when: string; by: string; kind: string; words: string }[]
  standing: { kind: string; name: string; state: string; word: string; value: string; when: string; until: string }[]; check: string
}
export interface Preview {
  trace: string; name: string; size: number; says: string; faults: string[]; points: Point[]; unit: string
  columns: { head: string; taken: string; unit: string; cells: string[] }[]; error_now?: { what: string }
  choices: { taken: Word[]; time_units: string[]; pressure_units: string[] }
}
export interface Plan { svg: string; bar: number; bar_words: string }
// A session under way.
export interface Kind { name: string; words: string; example: string; page: string; options: { key: string; words: string; hint?: string; default?: string; choice?: string[] | null; secret?: boolean }[] | null }
export interface Gauge { name: string; judged: boolean; phase: string; since: number; vacuum: number | null; age: number | null; error?: string; trouble?: string; text: string; value: number | null; says: string }
export interface LiveTest {
  test: number; port: string; pulled: number; steady?: number; held?: number; enough?: string
  lost: string; lost_in: string; held_s: number; of_s: number; estimate: { leak: string; this: string; limit: string; word: string } | null
}
export interface FiledTest { test: number; port: string; name: string; state: string; word: string; leak: string; at: string; id: string }
export interface Checked { code: string; words: string }
export interface View {
  now: number; stage: string; target: string; target_name: string; next?: string; next_name: string; gauges: Gauge[]; test?: LiveTest | null
  filed: FiledTest[]; check: { blank: Checked; known: Checked }; facts?: Record<string, string>; steps?: LiveStep[]
}
export interface LiveStep { id: string; name: string; put_on: string; on: string; made: number; wanted: number; hold?: number; stands?: number; skipped?: boolean; here?: boolean }
export interface Column { key: string; name: string; unit: string; hint: string; skip: boolean }
export interface CheckStep { code: string; kind: string; name: string; how: string; hand: string; live: boolean; files: string; most: number; fields: Column[]; rows: Column[]; start: number }
export interface CheckKind {
  kind: string; name: string; why: string; state: string; word: string; verdict: string; value: string; says: string[]; do: string; when: string; by: string; until: string; days: number
  id: string; way: string; chart: string; drawn: string; shares: { input: string; percent: string }[]; steps: CheckStep[]; due: boolean
}
export interface RigCheck {
  rig: { id: string; rev: number; name: string; practise: boolean }; unit: string; line: string; narrow: { kind: string; name: string; words: string } | null; kinds: CheckKind[]
  trust: { days: number; word: string }[]; parts: Word[]; readings: { words: string; svg: string; of: { name: string; before: string; now: string }[] }; usual: string[]; leaks: { code: string; word: string; length: boolean }[]
  log: { id: string; when: string; kind: string; words: string; by: string; stale: string }[]; cautions: string[]
}
export interface Run { id: string; job: string; rig: string; head: string; practise: boolean; unit: string; began: number; view: View; trouble?: string; relay?: { state: string; why: string; trouble: string } }
export interface Said { code: string; words: string; speak: string; tone: string }
export interface Frame { t: number; points: Point[] | null; run: Run | null; say: Said[] | null; fit: null | { points: Point[]; limits: { words: string; points: Point[] }[] | null }; v: string }
export interface Live { run: Run | null; kinds: Kind[]; faults?: (Word & { port?: boolean })[] }
// The wall card of a rig.
export interface Wall {
  rig: { id: string; name: string }; head: string; valves: string; heads: { id: string; name: string }[]; held: Word[]; blank: string
  ports: { name: string; valves: string; rows: { name: string; value: string; words: string; large: boolean }[] }[]; svg: string; pdf: string; lapses: string; says: string[]
}

// What the leaks of a head cost its engine.
export interface LossTable { head: string[]; rows: string[][] }
export interface LossCylinder {
  name: string; line: string; leaks: string[]; untold: string[]; over: boolean; chance: string
  runs: { name: string; words: string; guessed: boolean; rows: { name: string; without: string; around: string; with: string; between: string; lost: string; from: string }[] }[]
}
export interface Loss {
  line: string; engine: string; cylinders: LossCylinder[]; limit: string; limits: { name: string; value: string; from: string }[]
  other_title: string; others: LossTable; curve: LossTable; guessed: string[]; says: string[]; chart: string
}

export interface RigFault { code: string; name: string; seen: string; evidence: string[]; do: string; strength: number }
