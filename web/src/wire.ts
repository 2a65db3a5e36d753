// What the server sends, field for field as `register::view` writes it. Figures arrive rounded to the safe side,
// lengths and levels in metres; positions are [easting, northing] or [easting, northing, level].

export type Pair = [number, number];
export type Triple = [number, number, number];
export type Why = Record<string, string>;
export type Ring = Pair[];

export interface HeadView {
  n: number;
  hex: string;
  recorded_at: string | null;
}

export interface GridView {
  epsg: number | null;
  name: string;
  distances: string;
  level_datum: string;
  bench_mark: string;
}

export interface SiteSummary {
  id: string;
  name: string;
  head: HeadView;
}

export interface SurfaceView {
  name: string;
  kind: SurfaceKind;
  shape: "level" | "plane" | "tin";
  observed_at: string;
  u95_m: number | null;
  points: number;
  level_m: number | null;
  largest_residual_m: number | null;
  entry: number;
}

export type SurfaceKind = "existing" | "stripped" | "formation" | "finished-design" | "finished-built";

export interface Counts {
  points: number;
  runs: number;
  legs: number;
  expected: number;
  searched: number;
  control: number;
  stations: number;
}

export interface RulesInForce {
  id: string;
  title: string;
  sha256: string;
  entry: number;
  says: string;
}

export interface SiteView {
  format: string;
  id: string;
  name: string;
  head: HeadView;
  grid: GridView;
  origin: Pair;
  contact: string | null;
  rules: RulesInForce | null;
  read_only: string | null;
  surfaces: SurfaceView[];
  counts: Counts;
  cautions: string[];
}

export interface SiteMap {
  format: string;
  head: HeadView;
  min: Pair | null;
  max: Pair | null;
  runs: MapRun[];
  searched: MapArea[];
  control: MapControl[];
  points: MapPoint[];
  surfaces: MapSurface[];
}

export interface MapRun {
  run: string;
  service: string;
  line: Triple[];
  width_m: number;
  u95_h_m: number[];
  known: Known;
  status: string;
  doubts: string[];
  ends: [string, string];
}

export interface MapArea {
  area: string;
  ring: Ring;
  services: string[];
  counts: boolean;
  says: string;
}

export interface MapControl {
  point: string;
  at: Triple;
  ellipse: EllipseView | null;
  u95_v_m: number | null;
  why: Why;
}

export interface MapPoint {
  point: string;
  at: Triple;
  ellipse: EllipseView | null;
  u95_v_m: number | null;
  assumed: boolean;
  why: Why;
}

export interface MapSurface {
  name: string;
  ring: Ring;
}

export type Known = "seen-checked" | "seen" | "traced" | "drawn" | "assumed";
export type Touched = "outside-top" | "invert" | "centre" | "outside-bottom" | "side" | "ground" | "other";

export interface RunCard {
  format: string;
  run: string;
  service: string;
  letters: string;
  section: string;
  outside_m: number;
  section_assumed: boolean;
  status: string;
  known: Known;
  ends: [string, string];
  owner: string | null;
  note: string | null;
  below: string | null;
  vertices: RunCardVertex[];
  legs: RunCardLeg[];
  length_m: number;
  bow_m: number | null;
  findings: string[];
  entries: number[];
  releases: string[];
  why: Why;
}

export interface RunCardVertex {
  point: string;
  measured: [string, string, string];
  how: string;
  touched: Touched;
  chainage_m: number;
  axis: Triple;
  top_level_m: number;
  invert_level_m: number | null;
  u95_h_m: number | null;
  ellipse: EllipseView | null;
  u95_v_m: number | null;
  u95_assumed: boolean;
  doubts: string[];
  known: Known;
  surface_level_m: number | null;
  cover_m: number | null;
  cover_u95_m: number | null;
  depth_to_invert_m: number | null;
  observed_at: string;
  by: string;
  entry: number;
  why: Why;
}

export type RunCardLeg = CoverLeg & { known: Known };

export type CheckVerdict = "met" | "short" | "not-proved" | "missing";

export interface CoverAnswer {
  format: string;
  site: string;
  head: HeadView;
  below: string | null;
  rules: RulesInForce | null;
  verdict: CheckVerdict;
  says: string;
  summary: { met: number; short: number; not_proved: number; missing: number };
  runs: CoverRun[];
  expected: ExpectedRun[];
  gaps: CompletenessGap[];
  inverts: InvertRow[];
  separation: SeparationAnswer;
  cautions: string[];
  why: Why;
}

export type SeparationVerdict = "met" | "joins" | "not-proved" | "short";

export interface SeparationAnswer {
  verdict: SeparationVerdict;
  says: string;
  summary: SeparationSummary;
  places: SeparationPlace[];
  not_listed: number;
  not_placed: string[];
  without_figure: string[][];
  joint_m: number;
  beyond_m: number;
}

export interface SeparationSummary {
  met: number;
  joins: number;
  not_proved: number;
  short: number;
}

export interface SeparationPlace {
  runs: string[];
  services: string[];
  letters: string[];
  kind: string;
  verdict: SeparationVerdict;
  says: string;
  above: string | null;
  gap_m: number;
  worst_gap_m: number | null;
  horizontal_gap_m: number;
  worst_horizontal_gap_m: number | null;
  vertical_gap_m: number | null;
  worst_vertical_gap_m: number | null;
  measure: string | null;
  rule: RuleSpoken;
  unless: string[];
  place: Triple;
  at: Record<string, SeparationAt>;
  along_m: Pair[];
  why: Why;
}

export interface SeparationAt {
  points: Triple[];
  chainage_m: number[];
}

export interface RuleSpoken {
  id: string | null;
  minimum: number | null;
  source: string;
  status: string;
}

export interface CoverRun {
  run: string;
  service: string;
  letters: string;
  verdict: CheckVerdict;
  says: string;
  cover_verdict: CheckVerdict;
  fall_verdict: CheckVerdict | null;
  least_cover_m: number | null;
  worst_cover_m: number | null;
  at_chainage_m: number | null;
  at: Pair | null;
  cover_unknown_m: number;
  rule: RuleSpoken;
  fall_rule: RuleSpoken | null;
  legs: CoverLeg[];
  emerges_at_m: number[];
  longest_leg_m: number;
  bow_m: number | null;
  findings: string[];
  why: Why;
}

export interface CoverLeg {
  from: string;
  to: string;
  length_m: number;
  least_cover_m: number | null;
  worst_cover_m: number | null;
  at_chainage_m: number | null;
  riser: boolean;
  unshot_m: number | null;
  unshot_says: string | null;
  fall: FallView | null;
  cover_verdict: CheckVerdict;
  why: Why;
}

export interface FallView {
  drop_m: number;
  drop_u95_m: number | null;
  percent: number;
  percent_u95: number | null;
  one_in: number | null;
  wrong_way: boolean;
  verdict: CheckVerdict;
  says: string;
}

export interface ExpectedRun {
  run: string;
  service: string;
  from: string | null;
  to: string | null;
  recorded: boolean;
  says: string;
}

export interface CompletenessGap {
  code: string;
  about: string;
  says: string;
}

export interface InvertRow {
  run: string;
  point: string;
  chainage_m: number;
  invert_level_m: number | null;
  u95_m: number | null;
  depth_to_invert_m: number | null;
  fall_to_next: FallView | null;
  why: Why;
}

export type DigVerdict = "in-the-way" | "hand-dig" | "near" | "not-placed" | "beyond";

export interface DigQuestion {
  area?: Ring;
  line?: Ring;
  width_m?: number;
  /** A post or core by its centre. */
  point?: Pair;
  radius_m?: number;
  depth_m?: number;
  floor_level_m?: number;
  surface?: string;
  over_dig_m?: number;
  set_out_m?: number;
  batter?: number;
  keep?: boolean;
  by?: string;
  /** The entry's own id, where the answer is kept. */
  id?: string;
}

export interface DigAnswer {
  format: string;
  site: string;
  head: HeadView;
  as_at: string;
  dig: DigEcho;
  says: string;
  searched: SearchedShare;
  floor_unknown_area_m2: number;
  runs: DigRun[];
  not_compared: { site: string; why: string }[];
  rules: RulesInForce | null;
  cautions: string[];
  why: Why;
}

export interface LevelRange {
  min: number;
  max: number;
}

export interface DigEcho {
  kind: string;
  plan: Ring[];
  line: Ring | null;
  width_m: number | null;
  depth_m: number | null;
  floor_level_m: number | null;
  floor_levels_m: LevelRange | null;
  surface: string | null;
  surface_levels_m: LevelRange | null;
  surface_u95_m: number | null;
  batter: number | null;
  over_dig_m: number;
  set_out_m: number;
  allowances_assumed: boolean;
  area_m2: number;
  why: Why;
}

export interface SearchedShare {
  share: number;
  by_service: Record<string, { share: number; oldest: string | null; says: string[] }>;
  unsearched: Ring[][];
  not_counted: string[];
}

export interface DigRun {
  site: string;
  head: string;
  run: string;
  service: string;
  letters: string;
  section: string;
  outside_m: number;
  status: string;
  verdict: DigVerdict | null;
  known: Known;
  gap_m: number;
  worst_gap_m: number | null;
  horizontal_gap_m: number;
  worst_horizontal_gap_m: number | null;
  vertical_gap_m: number | null;
  worst_vertical_gap_m: number | null;
  overlap_m: number;
  cover_m: { min: number | null; max: number | null };
  top_level_m: LevelRange;
  u95_h_m: number | null;
  u95_v_m: number | null;
  unshot_m: number | null;
  unshot_says: string | null;
  bow_m: number | null;
  at: Record<string, { on_run: Triple; on_dig: Triple; chainage_m: number }>;
  rule: RuleSpoken | null;
  observed_at: string;
  part: { from_m: number; to_m: number; line: Triple[] }[];
  cautions: string[];
  says: string;
  why: Why;
}

export interface FindingView {
  code: string;
  severity: "note" | "doubt" | "refusal";
  file: string;
  row: number | null;
  column: string | null;
  says: string;
}

export interface ImportPreview {
  format: string;
  kind: string;
  file: string;
  sha256: string;
  accepted: boolean;
  says: string;
  columns: { header: string; read_as: string | null; samples: string[] }[];
  order_needed: boolean;
  rows: number;
  min: Triple | null;
  max: Triple | null;
  points: { point: string; at: Triple; row: number; touched: string | null; run: string | null }[];
  runs: { run: string; service: string | null; points: number; line: Triple[] }[];
  findings: FindingView[];
  findings_left_off: number;
  refusals: number;
  doubts: number;
  station: StationView | null;
  levels: LevelsView | null;
  import_id: string | null;
  entries: number;
}

export type AngleRead = "degrees" | "gon" | "dms" | "packed-dms";
export type FaceRead = "left" | "right";
export type SightKind = "control" | "check";
export type CheckOutcome = "passed" | "failed" | "not-done";
export type Spread = "not-spread" | "by-setups" | "by-distance";

export interface StationView {
  format: string;
  station: string;
  says: string;
  fits: boolean;
  check: CheckOutcome;
  unchecked_reason: string | null;
  at: Pair;
  level_m: number | null;
  u95_h_m: number;
  u95_v_m: number | null;
  ellipse: EllipseView;
  orientation_deg: number | null;
  checks: CheckView[];
  control: ControlView[];
  readings: ReadingView[];
  global: GlobalView | null;
  free_scale_ppm: Pair | null;
  grid_scale: number;
  air_ppm: number;
  air_says: string;
  causes: string[];
  findings: string[];
  suspect: string[];
  entries: number[];
  revisions: RevisionView[];
  geometry: GeometryView;
  why: Why;
}

export interface RevisionView {
  entry: number;
  at: Pair;
  level_m: number | null;
  u95_h_m: number;
  u95_v_m: number | null;
  fits: boolean;
  check: CheckOutcome;
  control: string[];
  changed: string[];
  moved_plan_m: number | null;
  moved_level_m: number | null;
  why: Why;
}

export interface GeometryView {
  sector_deg: number;
  narrow: boolean;
  one_side: boolean;
  on_one_line: boolean;
  circle: CircleView | null;
  why: Why;
}

export interface CircleView {
  centre: Pair;
  radius_m: number;
  off_m: number;
  near: boolean;
  directions_only: boolean;
}

export interface AnewView {
  format: string;
  says: string;
  changed: string[];
  before: StationView;
  after: StationView;
  station_plan_m: number;
  station_level_m: number | null;
  points: number;
  moved: number;
  largest_plan: MoveView | null;
  largest_level: MoveView | null;
  runs: RunMoveView[];
  why: Why;
}

export interface MoveView {
  point: string;
  plan_m: number;
  level_m: number;
}

export interface RunMoveView {
  run: string;
  points: number;
  plan_m: number;
  level_m: number;
}

/** A station as it was written in the book: what is set anew begins from it. */
export interface StationBody {
  station: string;
  saw?: number;
  instrument: Record<string, string>;
  angles: AngleRead;
  instrument_height_m: string;
  air?: Record<string, string>;
  air_in_instrument?: string;
  sights: KnownSight[];
  tolerance_mm?: string;
  unchecked_reason?: string;
}

export interface KnownSight {
  target: string;
  sighted_as: SightKind;
  direction?: string;
  zenith?: string;
  slope_m?: string;
  target_height_m: string;
  prism_mm: string;
  face?: FaceRead;
}

export interface PointCard {
  format: string;
  point: string;
  at: Triple;
  touched: string;
  known: string;
  u95_h_m: number | null;
  u95_v_m: number | null;
  how: string;
  measured_from: string[];
  doubts: string[];
  suspect: boolean;
  observed_at: string;
  entry: number | null;
  why: Why;
}

export interface EllipseView {
  semi_major_m: number;
  semi_minor_m: number;
  azimuth_deg: number | null;
}

export interface CheckView {
  point: string;
  plan_m: number;
  plan_u95_m: number;
  level_m: number | null;
  level_u95_m: number | null;
  tolerance_m: number;
  outcome: CheckOutcome;
  says: string;
}

export interface ControlView {
  point: string;
  at: Triple;
  rejected: boolean;
  shift_m: Triple | null;
}

export interface ReadingView {
  point: string;
  what: string;
  residual: number;
  unit: string;
  redundancy: number;
  w: number | null;
  detectable: number | null;
  plan_effect_m: number | null;
  rejected: boolean;
}

export interface GlobalView {
  statistic: number;
  degrees_of_freedom: number;
  interval: Pair;
  accepted: boolean;
}

export interface LevelsView {
  format: string;
  book: string;
  says: string;
  closes: boolean;
  misclosure_mm: number | null;
  allowable_mm: number | null;
  checks_hold: boolean;
  sums: [string, string, string, string, string];
  rows: LevelRowView[];
  findings: string[];
  entry: number | null;
}

export interface LevelRowView {
  row: number;
  point: string;
  rise: string | null;
  fall: string | null;
  collimation: string;
  level: string;
  known_level: string | null;
  adjusted_m: number | null;
  u95_m: number | null;
}

export interface JournalView {
  format: string;
  head: HeadView;
  entries: EntryView[];
}

export interface EntryView {
  n: number;
  id: string;
  kind: string;
  recorded_at: string;
  observed_at: string;
  by: string;
  device: string;
  says: string;
  head: string;
  withdrawn: string | null;
  body: unknown;
}

export interface VerifyView {
  format: string;
  site: string;
  head: HeadView;
  holds: boolean;
  faults: string[];
  proven: string[];
  not_proven: string[];
}

export interface ServiceView {
  slug: string;
  letters: string;
  name: string;
  dash_mm: number[];
  colour: string;
  gravity: boolean;
}

export interface RuleSetView {
  id: string;
  title: string;
  jurisdiction: string;
  note?: string;
  figures: { id: string; says: string; source: string; status: string }[];
}

export interface ErrorView {
  code: string;
  message: string;
  where: { file: string | null; row: number | null; column: string | null } | null;
}

export type HoldState = "passes" | "needs-reason" | "fails";
export type HoldVerdict = "all-met" | "with-reasons" | "open";
export type ReleaseOutcome = "released" | "released-with-exceptions" | "not-released";

export interface HoldAnswer {
  format: string;
  site: string;
  head: HeadView;
  as_at: string;
  area: string;
  ring: Pair[];
  runs: string[];
  below: string | null;
  rules: RulesInForce | null;
  verdict: HoldVerdict;
  says: string;
  items: HoldItem[];
  releases: ReleaseView[];
  why: Why;
  cautions: string[];
}

export interface HoldItem {
  key: string;
  code: string;
  about: string;
  state: HoldState;
  says: string;
  at: Pair | null;
  accepted: string | null;
}

export interface ReleaseView {
  entry: number;
  id: string;
  area: string;
  ring: Pair[];
  runs: string[];
  outcome: ReleaseOutcome;
  by: string;
  observed_at: string;
  accepted: number;
  says: string;
  changed: string[];
  withdrawn: string | null;
}

/** What a hold point is asked about. Corners are easting, northing, digit for digit. */
export interface HoldQuestion {
  area: string;
  ring?: string[][];
  runs?: string[];
  surface?: string;
}
