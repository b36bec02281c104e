export type Row = [label: string, value: string, besides?: string];

/** Labels and values, one below the other. */
export function Rows({ rows }: { rows: Row[] }) {
  return (
    <dl class="facts">
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
