// Asks four calculators and reads one problem, by the types that openapi-typescript makes of the document.
import createClient from "openapi-fetch";
import type { components, paths } from "./document.js";

type Problem = components["schemas"]["Problem"];

const base = process.argv[2];
if (base === undefined) throw new Error("the service's address is missing");
const client = createClient<paths>({ baseUrl: base });

const told: Record<string, unknown> = {};

const wattage = await client.GET("/v1/wattage", {
  params: { query: { cells: 3, capacity: "1150 mAh", rate: "1C" } },
});
told["nominal_power"] = wattage.data?.answer.nominal_power?.value;

const sag = await client.POST("/v1/sag", {
  body: {
    cells: 4,
    capacity: { value: 3700, unit: "mAh" },
    cell_resistance: { value: [4.2, 4.3, 4.2, 4.6], unit: "mΩ" },
    rest_voltage: "15.07 V",
    current: "48 A",
  },
});
told["holds"] = sag.data?.answer.holds;
told["assumed"] = sag.data?.assumed.chemistry;
told["read"] = sag.data?.question.rest_voltage;
told["edge"] = sag.data?.accuracy[0]?.low;

const left = await client.POST("/v1/charge-left", { body: { cells: 3, rest_voltage: "11.31 V" } });
told["verdict"] = left.data?.answer.verdict;

const lead = { gauge: "12 AWG", length: "0.6 m", current: "48 A" };
const spoken = await client.POST("/v1/{calculator}.{form}", {
  params: { path: { calculator: "lead-loss", form: "txt" } },
  body: lead,
  parseAs: "text",
});
told["spoken"] = spoken.data;

// A query of free names goes as the document says: each under its own.
const heard = await client.GET("/v1/{calculator}.{form}", {
  params: { path: { calculator: "lead-loss", form: "txt" }, query: { question: lead } },
  querySerializer: { object: { style: "form", explode: true } },
  parseAs: "text",
});
told["heard"] = heard.data;

const wrong = await client.POST("/v1/wattage", { body: { cells: 3, capacity: "1150", rate: 1 } });
const problem: Problem | undefined = wrong.error as Problem | undefined;
told["codes"] = problem?.errors?.map((fault) => `${fault.field} ${fault.code}`);

// Slips do not compile: a directive below that finds no error is an error itself.
export async function slips(): Promise<void> {
  // @ts-expect-error: a bare number is no capacity
  await client.POST("/v1/wattage", { body: { cells: 3, capacity: 1150 } });
  // @ts-expect-error: there is no such form
  await client.POST("/v1/{calculator}.{form}", { params: { path: { calculator: "sag", form: "pdf" } }, body: {} });
  // @ts-expect-error: there is no such input
  const asked: components["schemas"]["SagQuestion"] = { cells: 3, resting: "11.31 V" };
  console.log(asked);
  // @ts-expect-error: there is no such result
  console.log(sag.data?.answer.held);
  // @ts-expect-error: nor such an assumption
  console.log(sag.data?.assumed.chemestry.length);
}

console.log(JSON.stringify(told));
