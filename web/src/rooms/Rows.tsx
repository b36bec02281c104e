export type Row = [label: string, value: string, besides?: string | undefined];

/** Labels and values, one below the other. `long`: the labels want the room. */
export function Rows({ rows, long = false }: { rows: Row[]; long?: boolean }) {
  return (
    <dl class={`facts${long ? " long-labels" : ""}`}>
      {rows.map(([label, value, besides]) => (
        <div key={label} class="fact">
          <dt>{label}</dt>
          <dd>
            {value}
            {besides !== undefined && <small> {besides}</small>}
          </dd>
        </div>
      ))}
    </dl>
  );
}
