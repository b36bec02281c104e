// Made by npm run types. Do not edit.

export interface paths {
    "/api/v1/address": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Address
         * @description Every address of the page, the best for a phone first.
         */
        get: operations["get_address_api_v1_address_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/address/qr.svg": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Qr
         * @description The best address, or the best of a kind, as a QR code: dark on white, whatever the palette around it.
         */
        get: operations["get_qr_api_v1_address_qr_svg_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/alarms": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Alarms
         * @description The alarms of now, and the journal of all.
         */
        get: operations["get_alarms_api_v1_alarms_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/calibrations": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Calibrations
         * @description The calibrations in force, as control last told.
         */
        get: operations["get_calibrations_api_v1_calibrations_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/check": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Check
         * @description What `halocline check` says of this computer; made in the background when it is older than five minutes.
         */
        get: operations["get_check_api_v1_check_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/commands": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Give Command
         * @description Give a command. Needs the header X-Halocline: 1; all but stop and silence need a session.
         */
        post: operations["give_command_api_v1_commands_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/commissioning": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Commissioning
         * @description The steps of a commissioning and what was signed of them; as html the report to keep.
         */
        get: operations["get_commissioning_api_v1_commissioning_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/duties": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Duties
         * @description What is due by hand, soon and done, by whom and with what reading; and the water in the tank.
         */
        get: operations["get_duties_api_v1_duties_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/events": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Events
         * @description What happened: states, commands with who gave them, alarms, runs, flushes, work, calibrations. `before` is
         *     the `older` of an earlier answer.
         */
        get: operations["get_events_api_v1_events_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/faults": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Faults
         * @description The faults a simulated boat can have, and those that stand. There is nothing here aboard.
         */
        get: operations["get_faults_api_v1_faults_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/health": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Health
         * @description What the record has counted, and how the record itself is.
         */
        get: operations["get_health_api_v1_health_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/health/finding": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Finding
         * @description What is sure of how the plant ages, so that it is told unasked; null while there is nothing.
         */
        get: operations["get_finding_api_v1_health_finding_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/history": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get History
         * @description One channel or derived quantity over a span. Moments are Unix seconds, ISO 8601, or negative seconds
         *     before now; without them, the last ten minutes.
         */
        get: operations["get_history_api_v1_history_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/now": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Now
         * @description Everything known this moment.
         */
        get: operations["now_api_v1_now_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/offer": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Offer
         * @description What a run for this need would come to; for none, until the tank is full. Starts nothing.
         */
        get: operations["get_offer_api_v1_offer_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/plan": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Plan
         * @description When to make water in the days ahead; what can be offered now, and why nothing can.
         */
        get: operations["get_plan_api_v1_plan_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/plan/forbidden": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Forbid
         * @description No run is planned from now on for so many hours, because of the water; 0 hours: it may be planned again.
         */
        post: operations["forbid_api_v1_plan_forbidden_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/plan/forecast": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Foresee
         * @description Take a forecast of sun, engine and sea; it counts until a newer one comes.
         */
        post: operations["foresee_api_v1_plan_forecast_post"];
        /**
         * Forget
         * @description Forget the forecast of page and broker.
         */
        delete: operations["forget_api_v1_plan_forecast_delete"];
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/plan/what-if": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get What If
         * @description The days ahead if something were otherwise. Nothing of it is kept.
         */
        get: operations["get_what_if_api_v1_plan_what_if_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/runs": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Runs
         * @description The newest runs first.
         */
        get: operations["get_runs_api_v1_runs_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/runs/{run}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Run
         * @description One run, by its number in the record or by the id the snapshot calls it; as html a sheet to print.
         */
        get: operations["get_run_api_v1_runs__run__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/session": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Session State
         * @description Whether commands can be given from here, and what they need.
         */
        get: operations["session_state_api_v1_session_get"];
        put?: never;
        /**
         * Open Session
         * @description The PIN in, a cookie out.
         */
        post: operations["open_session_api_v1_session_post"];
        /**
         * Close Session
         * @description Ends the session; its cookie is worth nothing afterwards.
         */
        delete: operations["close_session_api_v1_session_delete"];
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/stores": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Stores
         * @description Spares aboard, and the shopping list for the next harbour.
         */
        get: operations["get_stores_api_v1_stores_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/stream": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Stream
         * @description Live snapshots as server-sent events, at most four a second, at least one a second.
         */
        get: operations["stream_api_v1_stream_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/v1/work": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Work
         * @description What was put on record by hand, and what the plant has done since.
         */
        get: operations["get_work_api_v1_work_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/healthz": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Healthz
         * @description How each part does. 200 as long as this process serves, for whoever restarts it at anything else would take
         *     the page away just when it tells what fails; `ok` is false while a part of ours fails: control is not heard, or
         *     the record cannot be written. A broker that is away counts as waiting: nothing on this computer brings it back.
         */
        get: operations["healthz_healthz_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/healthz/{part}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Healthz Of
         * @description How one part does. 200 only while it does all its work, or is off by the settings.
         */
        get: operations["healthz_of_healthz__part__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/metrics": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Metrics
         * @description For Prometheus: OpenMetrics if it is asked for, else the older text format.
         */
        get: operations["get_metrics_metrics_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
}
export type webhooks = Record<string, never>;
export interface components {
    schemas: {
        /**
         * Acknowledge
         * @description Say that an alarm has been seen.
         */
        Acknowledge: {
            /**
             * Alarm
             * @description its id; without: all
             */
            alarm?: string | null;
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "acknowledge";
            /** Pin */
            pin?: string | null;
        };
        /**
         * Address
         * @description Where the page is reached, best first. `best` is null when no other device can reach it; `note` says why.
         */
        Address: {
            /** Addresses */
            addresses: components["schemas"]["ReachableAt"][];
            /** Best */
            best: string | null;
            /** Note */
            note: string;
        };
        /**
         * Ageing
         * @description How membrane, filters, pump and sensors age. `figures` and the like are words; `answer` is what
         *     `halocline health --json` says. `past_complete`: no earlier point of the figures is still to be computed.
         */
        Ageing: {
            /** Answer */
            answer: {
                [key: string]: components["schemas"]["JsonValue"];
            };
            /** Ask */
            ask: string | null;
            /** Evidence */
            evidence: string[];
            /** Figures */
            figures: components["schemas"]["HealthFigure"][];
            finding: components["schemas"]["Finding"] | null;
            /** Past Complete */
            past_complete: boolean;
            /** Sentence */
            sentence: string;
        };
        /**
         * AlarmJournal
         * @description The alarms of now (null while nobody knows) and the steps recorded, newest first.
         */
        AlarmJournal: {
            /** Alarms */
            alarms: components["schemas"]["PublicAlarm"][] | null;
            /** Journal */
            journal: components["schemas"]["AlarmStep"][];
        };
        /**
         * AlarmState
         * @description The life cycle of an alarm (IEC 62682).
         * @enum {string}
         */
        AlarmState: "normal" | "unacknowledged" | "acknowledged" | "returned-unacknowledged" | "latched" | "shelved" | "suppressed" | "out-of-service";
        /**
         * AlarmStep
         * @description One step in the life of an alarm.
         */
        AlarmStep: {
            /** Boot */
            boot: string;
            /** Id */
            id: string;
            /** Means */
            means: string;
            /** Mono S */
            mono_s: number | null;
            /** Name */
            name: string;
            /** Priority */
            priority: string;
            /** Seq */
            seq: number;
            /** Time */
            time: string | null;
            /** To */
            to: string;
            /** Values */
            values: {
                [key: string]: number | string | boolean | null;
            };
        };
        /**
         * Alive
         * @description Whether every part of ours does its work, and how each does.
         */
        Alive: {
            /** Conditions */
            conditions: ("control_configuration" | "control_cannot_start" | "control_down" | "control_silent" | "configuration_next" | "report_configuration" | "certificate" | "record_unavailable" | "record_behind" | "record_note")[];
            /**
             * Control
             * @enum {string}
             */
            control: "live" | "lost";
            /** Ok */
            ok: boolean;
            /** Parts */
            parts: {
                [key: string]: components["schemas"]["AlivePart"];
            };
            /**
             * Record
             * @enum {string}
             */
            record: "ok" | "behind" | "failing";
        };
        /**
         * AlivePart
         * @description How one part does, and what is wrong with it. waiting: what it needs from outside is not there.
         */
        AlivePart: {
            /** Problem */
            problem: string | null;
            /**
             * State
             * @enum {string}
             */
            state: "ok" | "waiting" | "failing" | "off";
        };
        /**
         * Answer
         * @description What became of a command. `ids` name the reasons for programs, in the same order; `told` is what there is to say
         *     of one that was accepted.
         */
        Answer: {
            /** Accepted */
            accepted: boolean;
            /**
             * Ids
             * @default []
             */
            ids: string[];
            /**
             * Reasons
             * @default []
             */
            reasons: string[];
            /**
             * Told
             * @default []
             */
            told: string[];
        };
        /**
         * AskPlace
         * @description Where in the sentence its request stands. END: nothing follows it, so it can be shown by itself.
         * @enum {string}
         */
        AskPlace: "apart" | "start" | "within" | "end";
        /**
         * AskedFor
         * @description The need of an offer; all null: until the tank is full.
         */
        AskedFor: {
            /** Litres */
            litres: number | null;
            /** Minutes */
            minutes: number | null;
            /** Until S */
            until_s: number | null;
        };
        /**
         * AttendanceAnswer
         * @description The command that answers "still there?".
         */
        AttendanceAnswer: {
            /** Alarm */
            alarm: string;
            /** Command */
            command: string;
        };
        /**
         * AttendanceNow
         * @description Whether the run asks "still there?" now, in how many seconds it will, and how long it waits for an answer.
         */
        AttendanceNow: {
            answer: components["schemas"]["AttendanceAnswer"];
            /** Answer Left S */
            answer_left_s: number | null;
            /** Asked */
            asked: boolean;
            /** Due S */
            due_s: number;
        };
        /**
         * Bench
         * @description Try one output, with pumps and pressure off.
         */
        Bench: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "bench";
            /**
             * Output
             * @description its id
             */
            output: string;
            /** Pin */
            pin?: string | null;
            /**
             * Seconds
             * @description for how long (1)
             */
            seconds?: number | null;
        };
        /**
         * Calibrate
         * @description Set a sensor right against a better instrument, or the membrane by what it does.
         */
        Calibrate: {
            /**
             * Channel
             * @description a channel, `membrane`, or `all` with `configured`
             */
            channel?: string | null;
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "calibrate";
            /**
             * Configured
             * @description take the calibration back
             */
            configured?: boolean | null;
            /**
             * Initials
             * @description who makes it
             */
            initials?: string | null;
            /**
             * Membrane
             * @description the membrane, instead of a channel
             */
            membrane?: boolean | null;
            /** Pin */
            pin?: string | null;
            /**
             * Points
             * @description what was shown and what was true; null for what is shown now; for the membrane bar, °C, L/h and mg/L
             */
            points?: (number | null)[][] | null;
        };
        /**
         * CalibrationInForce
         * @description What was set right about a channel, or about the membrane: when, by whom, what it showed before and after.
         */
        CalibrationInForce: {
            /**
             * After
             * @default []
             */
            after: number[];
            /** Before */
            before: number[];
            /** Channel */
            channel: string;
            /** Date */
            date: string;
            /** Initials */
            initials: string;
            /**
             * Point
             * @default []
             */
            point: number[];
            /** Pulses Per L */
            pulses_per_l?: number | null;
            /** Salt Permeability Lmh */
            salt_permeability_lmh?: number | null;
            /** Span */
            span?: number | null;
            /** Water Permeability Lmh Bar */
            water_permeability_lmh_bar?: number | null;
            /** Zero */
            zero?: number | null;
        };
        /**
         * CalibrationsInForce
         * @description All calibrations in force; what is not among them reads by the configuration.
         */
        CalibrationsInForce: {
            /** Calibrations */
            calibrations: components["schemas"]["CalibrationInForce"][];
        };
        /**
         * Check
         * @description What `halocline check --json` said last, as far as the page's process may look; `looking` while it is made anew.
         *     `age_s` is null before the first, and `problem` says why there is none newer.
         */
        Check: {
            /** Age S */
            age_s: number | null;
            /** Lines */
            lines: components["schemas"]["CheckLine"][];
            /** Looking */
            looking: boolean;
            /** Problem */
            problem: string | null;
            /** Problems */
            problems: number;
            /** Warnings */
            warnings: number;
        };
        /**
         * CheckLine
         * @description One line of `halocline check`.
         */
        CheckLine: {
            /** About */
            about: string;
            /** Do */
            do: string;
            /** Found */
            found: string;
            /** Id */
            id: string;
            /** More */
            more: string[];
            /**
             * State
             * @enum {string}
             */
            state: "ok" | "warning" | "problem" | "not_seen";
        };
        /**
         * Commissioning
         * @description How far the commissioning is, out of the record.
         */
        Commissioning: {
            /** Begun */
            begun: boolean;
            /** Safety */
            safety: components["schemas"]["SafetyPoint"][];
            /** Steps */
            steps: components["schemas"]["CommissioningStep"][];
        };
        /**
         * CommissioningStep
         * @description One step. `measured`: control signs it only when it has seen what the step rests on.
         */
        CommissioningStep: {
            /** Id */
            id: string;
            /** Measured */
            measured: boolean;
            /** Name */
            name: string;
            signed: components["schemas"]["Signature"] | null;
        };
        /**
         * ConfigurationProblem
         * @description One thing wrong with the configuration file; `key` is empty where the file as a whole is at fault.
         */
        ConfigurationProblem: {
            /** Allowed */
            allowed: string;
            /** Do */
            do: string;
            /** File */
            file: string;
            /** Found */
            found: string;
            /** Key */
            key: string;
            /** Line */
            line: number | null;
        };
        /**
         * ConsentFlush
         * @description Let the plant flush by itself while nobody is there, for some days.
         */
        ConsentFlush: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "consent_flush";
            /**
             * Days
             * @description for how many days (7)
             */
            days?: number | null;
            /**
             * Litres
             * @description the most fresh water in all; without: as many flushes as fall due in warm water
             */
            litres?: number | null;
            /**
             * Name
             * @description who gives consent
             */
            name: string;
            /** Pin */
            pin?: string | null;
        };
        /**
         * DaysAhead
         * @description When to make water. `runs` and `feasible` are null while days cannot be planned; then `missing` says why.
         *     `against`: how what would be otherwise differs from the plan. `forecast`: which one counts, and how old it is;
         *     `sun_wh_day` and `engine_w` are what the configuration knows of sun and engine.
         */
        DaysAhead: {
            /** Against */
            against: string | null;
            /** Changed */
            changed: string | null;
            drawn: components["schemas"]["PlanDrawn"] | null;
            /** Engine W */
            engine_w: number;
            /** Feasible */
            feasible?: boolean | null;
            /** Forbidden */
            forbidden: components["schemas"]["ForbiddenWater"][];
            /** Forecast */
            forecast: string | null;
            /** From */
            from?: string | null;
            /** Missing */
            missing: string[];
            /** Problems */
            problems: string[];
            /** Reasons */
            reasons: string[];
            /** Rests On */
            rests_on: string[];
            /** Runs */
            runs?: components["schemas"]["PlannedRun"][] | null;
            /** Says */
            says: string;
            /** Sun Wh Day */
            sun_wh_day: number;
            /** To */
            to?: string | null;
            /** What Ifs */
            what_ifs: string[];
        };
        /**
         * Drive
         * @description Who switches the pump, and how the pressure is set.
         */
        Drive: {
            /**
             * Pump
             * @enum {string}
             */
            pump: "relay" | "permissive" | "watch_only";
            /**
             * Regulator
             * @enum {string}
             */
            regulator: "hand_each_run" | "left_set";
        };
        /**
         * Duties
         * @description What is done by hand, what is most pressing first.
         */
        Duties: {
            /** At */
            at: string;
            /** Duties */
            duties: components["schemas"]["DutyState"][];
            /** Sentence */
            sentence: string;
            water: components["schemas"]["TankWater"];
        };
        /**
         * DutyDone
         * @description When a duty was last done, by whom, and what a test measured against what was expected. `by_hand` is false where
         *     the plant's own water did it.
         */
        DutyDone: {
            /** At */
            at: string;
            /** By Hand */
            by_hand: boolean;
            /** Expected */
            expected: number | null;
            /** Measured */
            measured: number | null;
            /** Passed */
            passed: boolean;
            /** Who */
            who: string | null;
        };
        /**
         * DutyDue
         * @description When a duty is due: computed from dates, or foreseen from the use so far.
         */
        DutyDue: {
            /** At */
            at: string;
            /**
             * Basis
             * @enum {string}
             */
            basis: "computed" | "foreseen";
        };
        /**
         * DutyState
         * @description One duty: how it stands and why, in words too. `share` of its interval is gone; `kinds`: entries of the
         *     log that meet it besides `duty_done`; `task`: the page's guided task; `uses`: parts and how many.
         */
        DutyState: {
            /** Because */
            because: string;
            due: components["schemas"]["DutyDue"] | null;
            /** Duty */
            duty: string;
            /** How */
            how: string;
            /** Kinds */
            kinds: string[];
            last: components["schemas"]["DutyDone"] | null;
            /** Last Text */
            last_text: string;
            /** Minutes */
            minutes: number;
            /** Name */
            name: string;
            /** Share */
            share: number;
            /** Source */
            source: string;
            /**
             * State
             * @enum {string}
             */
            state: "overdue" | "due" | "soon" | "done" | "resting";
            /** Task */
            task: string | null;
            /** Text */
            text: string;
            /** Unit */
            unit: string;
            /** Uses */
            uses: {
                [key: string]: number;
            };
            /** Wants Reading */
            wants_reading: boolean;
            /** Why */
            why: string;
        };
        /**
         * EndTest
         * @description A test that a person confirms at the end of a purge: its id, and the statement in words.
         */
        EndTest: {
            /** Id */
            id: string;
            /** Text */
            text: string;
        };
        /**
         * Events
         * @description Newest first. `older` is what to give as `before` for those before them, null when these are the oldest.
         */
        Events: {
            /** Events */
            events: components["schemas"]["RecordedEvent"][];
            /** Older */
            older: string | null;
        };
        /**
         * Fault
         * @description On a simulated boat: let something break, to practise.
         */
        Fault: {
            /**
             * Clear
             * @description end it
             */
            clear?: boolean | null;
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "fault";
            /**
             * Fault
             * @description its name
             */
            fault: string;
            /** Pin */
            pin?: string | null;
        } & {
            [key: string]: number | string | boolean;
        };
        /**
         * FaultArgument
         * @description A number (from `low` to `high`), or one of `choices`. `typical` is a value to practise with, null where it
         *     depends on the channel, whose unit it is then in.
         */
        FaultArgument: {
            /**
             * Choices
             * @default []
             */
            choices: string[];
            /** High */
            high?: number | null;
            /**
             * In Channel Unit
             * @default false
             */
            in_channel_unit: boolean;
            /** Low */
            low?: number | null;
            /** Name */
            name: string;
            /**
             * Optional
             * @default false
             */
            optional: boolean;
            /** Typical */
            typical?: number | null;
            /**
             * Unit
             * @default
             */
            unit: string;
        };
        /**
         * FaultChoice
         * @description Something a fault can strike; `unit` is that of a channel.
         */
        FaultChoice: {
            /** Name */
            name: string;
            /**
             * Unit
             * @default
             */
            unit: string;
            /** Value */
            value: string | number;
        };
        /**
         * Faults
         * @description All of it.
         */
        Faults: {
            /** Offered */
            offered: components["schemas"]["OfferedFault"][];
            /** Standing */
            standing: components["schemas"]["StandingFault"][];
        };
        /**
         * FigureBand
         * @description A figure over time as columns of the same length: Unix s, the estimate and its 80 % interval, as was told then;
         *     null where too little was known.
         */
        FigureBand: {
            /** At S */
            at_s: number[];
            /** Estimate */
            estimate: (number | null)[];
            /** High */
            high: (number | null)[];
            /** Low */
            low: (number | null)[];
        };
        /**
         * Finding
         * @description What is sure enough to be told unasked. `name` is what the log's `finding_aside` takes as `finding`.
         */
        Finding: {
            aside: components["schemas"]["FindingAside"] | null;
            /** Confidence */
            confidence: number;
            /** Name */
            name: string;
            /** Text */
            text: string;
        };
        /**
         * FindingAside
         * @description When a finding was put aside, why, and by whom.
         */
        FindingAside: {
            /** On */
            on: string | null;
            /** Reason */
            reason: string;
            /** Who */
            who: string | null;
        };
        /**
         * Flush
         * @description Flush with fresh water.
         */
        Flush: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "flush";
            /**
             * Litres
             * @description litres of fresh water
             */
            litres?: number | null;
            /** Pin */
            pin?: string | null;
        };
        /**
         * FlushAlone
         * @description Flushes that nobody orders: the consent in force, if one is, and what speaks against the next one now. `next` and
         *     the consent's `until` are null while the clock is not set.
         */
        FlushAlone: {
            /** By */
            by: string | null;
            /** Failures */
            failures: number;
            /** Flush L */
            flush_l: number;
            /** Left L */
            left_l: number | null;
            /** Next */
            next: string | null;
            /** Next S */
            next_s: number | null;
            /** Not Now */
            not_now: string[];
            /** Notice Left S */
            notice_left_s: number | null;
            /** Tank Percent */
            tank_percent: number;
            /** Until */
            until: string | null;
        };
        /**
         * Flushed
         * @description The newest flush.
         */
        Flushed: {
            /** Complete */
            complete: boolean | null;
            /** Litres */
            litres: number | null;
            /** Measured */
            measured: boolean | null;
            /** Time */
            time: string | null;
        };
        /**
         * Forbidden
         * @description A water in which none is made, from now on for so many hours; none ends it.
         */
        Forbidden: {
            /** Hours */
            hours: number;
            /**
             * Place
             * @default
             */
            place: string;
            /** Why */
            why: string;
        };
        /**
         * ForbiddenTime
         * @description When no run may be.
         */
        ForbiddenTime: {
            /** From */
            from: string;
            /** To */
            to: string;
            /** Why */
            why: string;
        };
        /**
         * ForbiddenWater
         * @description A time in which no run is planned because of the water, in words too.
         */
        ForbiddenWater: {
            /** From */
            from: string;
            /** Text */
            text: string;
            /** To */
            to: string;
            /** Why */
            why: string;
        };
        /**
         * GivenReason
         * @description Something that the configuration lets the plant do, and why, in the owner's words.
         */
        GivenReason: {
            /** Id */
            id: string;
            /** Means */
            means: string;
            /** Why */
            why: string;
        };
        /**
         * Health
         * @description What the record has counted, and how the plant ages. `membrane` is null where the settings on record allow no
         *     comparison, and `note` says why.
         */
        Health: {
            /** Counters */
            counters: {
                [key: string]: number;
            };
            /** Holes */
            holes: components["schemas"]["Hole"][];
            last_flush: components["schemas"]["Flushed"] | null;
            membrane: components["schemas"]["Ageing"] | null;
            /** Note */
            note: string | null;
            record: components["schemas"]["RecordState"];
        };
        /**
         * HealthFigure
         * @description One figure in words: what it is now, then how fast it goes and when it ends (empty while that is not known). And
         *     how it was before, in `unit` (1 is a share), with the `threshold` at which it is time to act.
         */
        HealthFigure: {
            band: components["schemas"]["FigureBand"];
            /** End */
            end: string;
            /** Name */
            name: string;
            /** Now */
            now: string;
            /** Threshold */
            threshold: number;
            /**
             * Unit
             * @enum {string}
             */
            unit: "1" | "bar";
        };
        /**
         * HealthFinding
         * @description What is sure of how the plant ages; null while nothing is, or surely nothing is wrong.
         */
        HealthFinding: {
            finding: components["schemas"]["Finding"] | null;
        };
        /**
         * Hole
         * @description What the record has not got: numbers of one boot; `to_seq` null where nobody knows how many.
         */
        Hole: {
            /** Boot */
            boot: string;
            /** From Seq */
            from_seq: number;
            /** Reason */
            reason: string;
            /** To Seq */
            to_seq: number | null;
        };
        JsonValue: unknown;
        /**
         * LastKnown
         * @description The last thing heard before the link was lost. It is past.
         */
        LastKnown: {
            /** Alarms */
            alarms: components["schemas"]["PublicAlarm"][] | null;
            /** Allowed Commands */
            allowed_commands: string[];
            ask: components["schemas"]["PublicAsk"] | null;
            attendance: components["schemas"]["AttendanceNow"] | null;
            /** Boat */
            boat: string;
            /** Boot */
            boot: string | null;
            /** Conditions */
            conditions: components["schemas"]["PublicCondition"][];
            /** Contacts */
            contacts: {
                [key: string]: boolean | null;
            };
            /** Derived */
            derived: {
                [key: string]: number | null;
            };
            drive: components["schemas"]["Drive"] | null;
            /** First Out */
            first_out: string | null;
            flush_alone: components["schemas"]["FlushAlone"] | null;
            /** Given Reasons */
            given_reasons: components["schemas"]["GivenReason"][];
            /** Last */
            last: null;
            /** Limits */
            limits: {
                [key: string]: number;
            } | null;
            link: components["schemas"]["LinkState"];
            locked: components["schemas"]["Locked"] | null;
            /** Out Of Service */
            out_of_service: components["schemas"]["OutOfService"][] | null;
            /** Outputs */
            outputs: {
                [key: string]: boolean | null;
            };
            owed: components["schemas"]["Owed"] | null;
            /** Problems */
            problems: string[];
            /** Questions */
            questions: components["schemas"]["StartQuestion"][];
            /** Readings */
            readings: {
                [key: string]: components["schemas"]["ReadingNow"];
            };
            /** Refused */
            refused: {
                [key: string]: string[];
            };
            /** Refused Ids */
            refused_ids: {
                [key: string]: string[];
            };
            run: components["schemas"]["RunNow"] | null;
            /** Run Takes Wh */
            run_takes_wh: number | null;
            /**
             * Schema
             * @constant
             */
            schema: 1;
            /** Sentence */
            sentence: string;
            /** Seq */
            seq: number | null;
            /** Simulated */
            simulated: boolean;
            /** Since S */
            since_s: number | null;
            state: components["schemas"]["State"] | null;
            /** Time */
            time: string | null;
            units: components["schemas"]["UnitChoice"];
            /** Uptime S */
            uptime_s: number | null;
            /** Version */
            version: string;
        };
        /**
         * LayUp
         * @description Note that the membrane is preserved; refuses to run until recommissioned.
         */
        LayUp: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "lay_up";
            /** Pin */
            pin?: string | null;
            /**
             * Preservative
             * @description preservative, glycol (food-grade propylene), new_element or cleaning
             */
            preservative?: ("preservative" | "glycol" | "new_element" | "cleaning") | null;
        };
        /**
         * LinkState
         * @description Whether control is heard.
         */
        LinkState: {
            /** Age S */
            age_s: number | null;
            /**
             * Control
             * @enum {string}
             */
            control: "live" | "lost";
        };
        /**
         * Locked
         * @description A person has a housing open.
         */
        Locked: {
            /** Name */
            name: string;
            /** Reason */
            reason: string;
        };
        /**
         * Log
         * @description Note work done by hand, or anything worth writing down.
         */
        Log: {
            /**
             * Aboard
             * @description with stores_counted: how many are aboard
             */
            aboard?: number | null;
            /**
             * Alarm
             * @description the alarm that is taken out of service or put back
             */
            alarm?: string | null;
            /**
             * Bar
             * @description with gauge_read: what the mechanical gauge shows
             */
            bar?: number | null;
            /**
             * By
             * @description with sea_salinity: how it was got; published is a figure for the region, its source in the note
             */
            by?: ("refractometer" | "hydrometer" | "published") | null;
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "log";
            /**
             * Confirmed
             * @description with purge_confirmed: the end tests done, in their order; with the step safety: the points that are true
             */
            confirmed?: string[] | null;
            /**
             * Contact H
             * @description with tank_chlorinated: hours it has to stand before the tank is emptied
             */
            contact_h?: number | null;
            /**
             * Duty
             * @description with duty_done: which one
             */
            duty?: ("strainer" | "gauge" | "hand_meter" | "bucket" | "oil_look" | "seacocks" | "cartridges" | "hoses_and_earths" | "pump_oil" | "motor_brushes" | "prove_trips" | "prove_pressure_switch" | "prove_time_out_relay" | "prove_diverter" | "prove_check_valves" | "relief_valve" | "gauge_against_test_gauge" | "by_hand_drill" | "tank_turnover" | "disinfect_tank" | "residual" | "carbon_filter" | "uv_lamp" | "calcite" | "bare_metal" | "laboratory" | "preservative") | null;
            /**
             * Expected
             * @description with duty_done: what it had to show here, where that is not what the table of duties says
             */
            expected?: number | null;
            /**
             * Finding
             * @description with finding_aside: what health has found and need not tell again until it changes; why stands in the note
             */
            finding?: ("fouling" | "scaling" | "membrane_damage" | "worn_pump" | "conductivity_drift" | "pressure_drift" | "flow_meter_drift" | "prefilter" | "sea_salinity") | null;
            /**
             * G Kg
             * @description with sea_salinity: grams of salt in a kilogram of sea water
             */
            g_kg?: number | null;
            /**
             * Kind
             * @description what was done: filter_changed, strainer_cleaned, oil_changed, hand_meter, bucket_test, gauge_read, sea_salinity, finding_aside, cleaned, element_changed, circuit_opened, purge_confirmed, tank_chlorinated, shore_water_taken, chlorine_strip_zero, chlorine_read, duty_done, stores_counted, at_the_plant, alarm_out_of_service, alarm_in_service, commissioned, note
             */
            kind: string;
            /**
             * Litres
             * @description with bucket_test: litres of product in the bucket
             */
            litres?: number | null;
            /**
             * Measured
             * @description with duty_done: what the test showed, in the duty's unit
             */
            measured?: number | null;
            /**
             * Mg L
             * @description free chlorine: with chlorine_read what the strip or meter shows, with tank_chlorinated what was dosed
             */
            mg_l?: number | null;
            /**
             * Minimum
             * @description with stores_counted: how many should be
             */
            minimum?: number | null;
            /**
             * Note
             * @description in your words
             */
            note?: string | null;
            /**
             * Part
             * @description with stores_counted: which one
             */
            part?: ("coarse_cartridge" | "fine_cartridge" | "filter_seal" | "oil_fill" | "motor_brush_pair" | "pump_seal_kit" | "membrane" | "high_pressure_hose" | "carbon_cartridge" | "uv_lamp" | "calcite_fill" | "chlorine_strip" | "ph_strip" | "sulphite_strip" | "hypochlorite_dose" | "metabisulphite_dose" | "cleaner_lye_dose" | "cleaner_acid_dose" | "sample_bottle") | null;
            /** Pin */
            pin?: string | null;
            /**
             * Sample C
             * @description with hand_meter: °C of the sample, if the meter does not bring it to 25 °C itself
             */
            sample_c?: number | null;
            /**
             * Seconds
             * @description with bucket_test: how long it took
             */
            seconds?: number | null;
            /**
             * Step
             * @description with commissioned: the step of the commissioning
             */
            step?: string | null;
            /**
             * Us Cm
             * @description with hand_meter: what it shows of the product, µS/cm
             */
            us_cm?: number | null;
        };
        /**
         * OfferedFault
         * @description A fault the boat can have; `target` is the argument that takes one of `choices`.
         */
        OfferedFault: {
            /** Arguments */
            arguments: components["schemas"]["FaultArgument"][];
            /** Choices */
            choices: components["schemas"]["FaultChoice"][];
            /** Does */
            does: string;
            /** Fault */
            fault: string;
            /**
             * Kind
             * @enum {string}
             */
            kind: "plant" | "sensor" | "electronics";
            /** Name */
            name: string;
            /** Target */
            target: string | null;
        };
        /**
         * OutOfService
         * @description An alarm that a person has taken out of service, and why; `since` is null without a clock.
         */
        OutOfService: {
            /** Id */
            id: string;
            /** Name */
            name: string;
            /** Since */
            since: string | null;
            /** Who */
            who: string;
            /** Why */
            why: string;
        };
        /**
         * Owed
         * @description What the plant still needs. `chlorine`: the flush water may carry chlorine, which blocks every flush.
         */
        Owed: {
            /** Chlorine */
            chlorine: boolean;
            /** Flush */
            flush: boolean;
            purge: components["schemas"]["Purge"] | null;
        };
        /**
         * Part
         * @description The parts of the plant as its drawing shows them: where an alarm is marked.
         * @enum {string}
         */
        Part: "sea" | "filters" | "pump_inlet" | "pressure_pump" | "membrane" | "product" | "tank" | "flush";
        /**
         * PartUsed
         * @description When a part was last used or fitted, by whom, and how long the high-pressure pump has run since, h.
         */
        PartUsed: {
            /** At */
            at: string;
            /** Pump H Since */
            pump_h_since: number;
            /** Who */
            who: string | null;
        };
        /**
         * Plan
         * @description What can be offered now, none of which would be refused; or the `reasons` why nothing can. `rests_on` has the
         *     figures behind it, `says` what the flow is told from; null and empty while control is not heard.
         */
        Plan: {
            ahead: components["schemas"]["DaysAhead"];
            /** Offers */
            offers: components["schemas"]["PublicOffer"][];
            /** Reasons */
            reasons: string[];
            /** Rests On */
            rests_on: {
                [key: string]: number | boolean | string | null;
            } | null;
            /** Says */
            says: string;
        };
        /**
         * PlanDrawn
         * @description Tank and battery over the days ahead, a point for the end of each `step_min`; `sun_w` by the hour.
         */
        PlanDrawn: {
            /**
             * Battery From
             * @enum {string}
             */
            battery_from: "measured" | "computed" | "assumed";
            /** Battery Low Percent */
            battery_low_percent: number[];
            /** Battery Now Percent */
            battery_now_percent: number;
            /** Battery Percent */
            battery_percent: number[];
            /** Blocked */
            blocked: components["schemas"]["ForbiddenTime"][];
            /** Capacity L */
            capacity_l: number;
            /** Min Percent */
            min_percent: number;
            /** Reserve L */
            reserve_l: number;
            /** Step Min */
            step_min: number;
            /** Sun W */
            sun_w: number[];
            /** Tank High L */
            tank_high_l: number[];
            /** Tank L */
            tank_l: number[];
            /** Tank Now L */
            tank_now_l: number;
        };
        /**
         * PlannedRun
         * @description A run of the days ahead; the pump is on for `minutes`, `overboard_l` counted. `why`: what speaks for it then.
         */
        PlannedRun: {
            /** Energy Wh */
            energy_wh: number;
            /** Flow L H */
            flow_l_h: number;
            /** Flush L */
            flush_l: number;
            /** Litres To Tank */
            litres_to_tank: number;
            /** Minutes */
            minutes: number;
            /** Overboard L */
            overboard_l: number;
            /** Start */
            start: string;
            /**
             * Why
             * @enum {string}
             */
            why: "sun_to_spare" | "engine_runs" | "reserve" | "level_at_end";
        };
        /**
         * Priority
         * @description How soon a person must act (IEC 62682).
         * @enum {string}
         */
        Priority: "urgent" | "high" | "low" | "log";
        /**
         * PublicAlarm
         * @description An alarm that is not normal; `since` is null while the clock is not set. `under` is the alarm that has brought
         *     this one with it, while it is suppressed; `part` is where the page's drawing marks it.
         */
        PublicAlarm: {
            /** Do */
            do: string;
            /** Id */
            id: string;
            /** Ignored */
            ignored: string;
            /** Means */
            means: string;
            /** Name */
            name: string;
            part: components["schemas"]["Part"] | null;
            priority: components["schemas"]["Priority"];
            /** Since */
            since: string | null;
            /** Since S */
            since_s: number | null;
            state: components["schemas"]["AlarmState"];
            /** Under */
            under: string | null;
            /** Values */
            values: {
                [key: string]: number | string | boolean | null;
            };
        };
        /**
         * PublicAsk
         * @description What only a person can do, now; `place` is where the sentence says it too.
         */
        PublicAsk: {
            /** Id */
            id: string;
            place: components["schemas"]["AskPlace"];
            /** Text */
            text: string | null;
        };
        /**
         * PublicCondition
         * @description What is wrong on the computer's side, gravest first. While control is not heard exactly one of the ids
         *     `control_…` says why; `problems` lists a configuration's.
         */
        PublicCondition: {
            /** Do */
            do: string;
            /**
             * Id
             * @enum {string}
             */
            id: "control_configuration" | "control_cannot_start" | "control_down" | "control_silent" | "configuration_next" | "report_configuration" | "certificate" | "record_unavailable" | "record_behind" | "record_note";
            /** Means */
            means: string;
            /** Problems */
            problems: components["schemas"]["ConfigurationProblem"][];
        };
        /**
         * PublicHistory
         * @description One channel as columns of the same length; a point of nulls is a gap. Times are Unix seconds.
         */
        PublicHistory: {
            /** Bucket S */
            bucket_s: number;
            /** Channel */
            channel: string;
            /** From */
            from: number;
            /** Max */
            max: (number | null)[];
            /** Mean */
            mean: (number | null)[];
            /** Min */
            min: (number | null)[];
            /** Time */
            time: number[];
            /** To */
            to: number;
            /** Unit */
            unit: string;
        };
        /**
         * PublicOffer
         * @description What a run would come to, foreseen. `possible` only if a start would be accepted now; `reasons` says what speaks
         *     against this need. `litres` of `wanted_l` get into the tank in this one run, which ends `seconds` after the start,
         *     by `ended_by`; then the motor rests for `rest_s` if it has to. `says` is all of it in words.
         */
        PublicOffer: {
            /** Before S */
            before_s: number;
            /**
             * Ended By
             * @enum {string}
             */
            ended_by: "need" | "tank" | "motor" | "run_limit" | "purge";
            /** Ends */
            ends: string | null;
            /** Energy Wh */
            energy_wh: number | null;
            /** Flush L */
            flush_l: number;
            /** Litres */
            litres: number | null;
            need: components["schemas"]["AskedFor"];
            /** Possible */
            possible: boolean;
            /** Reasons */
            reasons: string[];
            /** Rest S */
            rest_s: number | null;
            /** Says */
            says: string[];
            /** Seconds */
            seconds: number | null;
            /** Wanted L */
            wanted_l: number | null;
        };
        /**
         * PublicSnapshot
         * @description The present; the last known past stands under `last` while the link is lost.
         */
        PublicSnapshot: {
            /** Alarms */
            alarms: components["schemas"]["PublicAlarm"][] | null;
            /** Allowed Commands */
            allowed_commands: string[];
            ask: components["schemas"]["PublicAsk"] | null;
            attendance: components["schemas"]["AttendanceNow"] | null;
            /** Boat */
            boat: string;
            /** Boot */
            boot: string | null;
            /** Conditions */
            conditions: components["schemas"]["PublicCondition"][];
            /** Contacts */
            contacts: {
                [key: string]: boolean | null;
            };
            /** Derived */
            derived: {
                [key: string]: number | null;
            };
            drive: components["schemas"]["Drive"] | null;
            /** First Out */
            first_out: string | null;
            flush_alone: components["schemas"]["FlushAlone"] | null;
            /** Given Reasons */
            given_reasons: components["schemas"]["GivenReason"][];
            last: components["schemas"]["LastKnown"] | null;
            /** Limits */
            limits: {
                [key: string]: number;
            } | null;
            link: components["schemas"]["LinkState"];
            locked: components["schemas"]["Locked"] | null;
            /** Out Of Service */
            out_of_service: components["schemas"]["OutOfService"][] | null;
            /** Outputs */
            outputs: {
                [key: string]: boolean | null;
            };
            owed: components["schemas"]["Owed"] | null;
            /** Problems */
            problems: string[];
            /** Questions */
            questions: components["schemas"]["StartQuestion"][];
            /** Readings */
            readings: {
                [key: string]: components["schemas"]["ReadingNow"];
            };
            /** Refused */
            refused: {
                [key: string]: string[];
            };
            /** Refused Ids */
            refused_ids: {
                [key: string]: string[];
            };
            run: components["schemas"]["RunNow"] | null;
            /** Run Takes Wh */
            run_takes_wh: number | null;
            /**
             * Schema
             * @constant
             */
            schema: 1;
            /** Sentence */
            sentence: string;
            /** Seq */
            seq: number | null;
            /** Simulated */
            simulated: boolean;
            /** Since S */
            since_s: number | null;
            state: components["schemas"]["State"] | null;
            /** Time */
            time: string | null;
            units: components["schemas"]["UnitChoice"];
            /** Uptime S */
            uptime_s: number | null;
            /** Version */
            version: string;
        };
        /**
         * Purge
         * @description What first water still has to be purged of (`also`: of an earlier purge; `named`: all of it in words), the tests
         *     that end it, and what speaks against confirming them now.
         */
        Purge: {
            /** Also */
            also: string[];
            /** Confirm */
            confirm: boolean;
            /** Left S */
            left_s: number;
            /** Named */
            named: string;
            /** Not Now */
            not_now: string[];
            /** Of */
            of: string;
            /** Rinse L */
            rinse_l: number;
            /** Rinsed L */
            rinsed_l: number;
            /** Tests */
            tests: components["schemas"]["EndTest"][];
        };
        /**
         * Quality
         * @description What a reading is worth. Only ``good`` is ever good news.
         * @enum {string}
         */
        Quality: "good" | "under" | "over" | "open" | "short" | "stale" | "stuck" | "implausible" | "missing";
        /**
         * ReachableAt
         * @description One address of the page; `this_computer` is of no use to others.
         */
        ReachableAt: {
            /**
             * Kind
             * @enum {string}
             */
            kind: "network" | "name" | "this_computer";
            /** Url */
            url: string;
        };
        /**
         * ReadingNow
         * @description One channel; `value` is null unless the quality is good, under or over.
         */
        ReadingNow: {
            /** Age S */
            age_s: number | null;
            quality: components["schemas"]["Quality"];
            /** Raw */
            raw: number | null;
            /** Unit */
            unit: string;
            /** Value */
            value: number | null;
        };
        /**
         * Recommission
         * @description Bring a preserved plant back; first water is purged.
         */
        Recommission: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "recommission";
            /** Pin */
            pin?: string | null;
        };
        /**
         * RecordState
         * @description How the record is.
         */
        RecordState: {
            /** Held */
            held: number;
            /** Last Write Age S */
            last_write_age_s: number | null;
            /** Lost */
            lost: number;
            /** Note */
            note: string | null;
            /** Problem */
            problem: string | null;
            /** Refused */
            refused: number;
            /**
             * State
             * @enum {string}
             */
            state: "ok" | "behind" | "failing";
            /** Unreadable */
            unreadable: number;
        };
        /**
         * RecordedEvent
         * @description Something that happened, in one line; by whom and from where, for what people ordered. `key` tells it from all
         *     others.
         */
        RecordedEvent: {
            /** Boot */
            boot: string;
            /** Key */
            key: string;
            /** Kind */
            kind: string;
            /** Mono S */
            mono_s: number | null;
            /** Origin */
            origin: string | null;
            /** Seq */
            seq: number;
            /** Text */
            text: string;
            /** Time */
            time: string | null;
            /** Who */
            who: string | null;
        };
        /**
         * RecordedRun
         * @description A run of the record; `ended` is null while it goes on, times are null where no clock was set.
         */
        RecordedRun: {
            /** Asked */
            asked: {
                [key: string]: unknown;
            };
            /** Boot */
            boot: string;
            /** Cut Off */
            cut_off: boolean;
            /** Ended */
            ended: string | null;
            /** Energy Basis */
            energy_basis: string | null;
            /** Energy Means */
            energy_means: string;
            /** Energy Wh */
            energy_wh: number | null;
            /** First Out */
            first_out: string | null;
            /** Flush L */
            flush_l: number | null;
            /** Going On */
            going_on: boolean;
            /** Id */
            id: number;
            /** Litres */
            litres: number | null;
            /** Origin */
            origin: string | null;
            /** Overboard L */
            overboard_l: number | null;
            /** Peak Pressure Bar */
            peak_pressure_bar: number | null;
            /** Producing S */
            producing_s: number | null;
            /** Run */
            run: string;
            /** Seconds */
            seconds: number | null;
            /** Started */
            started: string | null;
            /** Target L */
            target_l: number | null;
            /** Tds Mean Mg L */
            tds_mean_mg_l: number | null;
            /** Tds Worst Mg L */
            tds_worst_mg_l: number | null;
            /** Who */
            who: string | null;
            /** Why */
            why: string | null;
            /** Why Id */
            why_id: string | null;
        };
        /**
         * RecordedWork
         * @description Something done by hand, and what the plant has done since: seconds of the high-pressure pump, litres of product.
         *     `time` is null where no clock was set.
         */
        RecordedWork: {
            /** Boot */
            boot: string;
            /** Kind */
            kind: string;
            /** Note */
            note: string;
            /** Product L Since */
            product_l_since: number;
            /** Pump S Since */
            pump_s_since: number;
            /** Seq */
            seq: number;
            /** Time */
            time: string | null;
            /** Who */
            who: string | null;
        };
        /**
         * Reset
         * @description Leave the tripped state once its causes are gone.
         */
        Reset: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "reset";
            /** Pin */
            pin?: string | null;
        };
        /**
         * RunFact
         * @description One figure of a run, as people read it.
         */
        RunFact: {
            /** Name */
            name: string;
            /** Text */
            text: string;
        };
        /**
         * RunNow
         * @description The run that goes on.
         */
        RunNow: {
            /** Energy Basis */
            energy_basis: string | null;
            /** Energy Wh */
            energy_wh: number;
            /** Id */
            id: string;
            /** Litres */
            litres: number;
            /** Remaining S */
            remaining_s: number | null;
            /** Seconds */
            seconds: number;
            /** Target L */
            target_l: number | null;
        };
        /**
         * RunSheet
         * @description A run with what its sheet says: why it began and ended, and its figures in words.
         */
        RunSheet: {
            /** Asked */
            asked: {
                [key: string]: unknown;
            };
            /** Boot */
            boot: string;
            /** Cut Off */
            cut_off: boolean;
            /** Ended */
            ended: string | null;
            /** Energy Basis */
            energy_basis: string | null;
            /** Energy Means */
            energy_means: string;
            /** Energy Wh */
            energy_wh: number | null;
            /** Facts */
            facts: components["schemas"]["RunFact"][];
            /** First Out */
            first_out: string | null;
            /** Flush L */
            flush_l: number | null;
            /** Going On */
            going_on: boolean;
            /** Id */
            id: number;
            /** Litres */
            litres: number | null;
            /** Origin */
            origin: string | null;
            /** Overboard L */
            overboard_l: number | null;
            /** Peak Pressure Bar */
            peak_pressure_bar: number | null;
            /** Producing S */
            producing_s: number | null;
            /** Run */
            run: string;
            /** Seconds */
            seconds: number | null;
            /** Started */
            started: string | null;
            /** Story */
            story: string;
            /** Target L */
            target_l: number | null;
            /** Tds Mean Mg L */
            tds_mean_mg_l: number | null;
            /** Tds Worst Mg L */
            tds_worst_mg_l: number | null;
            /** Who */
            who: string | null;
            /** Why */
            why: string | null;
            /** Why Id */
            why_id: string | null;
        };
        /**
         * Runs
         * @description Newest first.
         */
        Runs: {
            /** Runs */
            runs: components["schemas"]["RecordedRun"][];
        };
        /**
         * SafetyPoint
         * @description A point of the safety list: the text that is confirmed by its id.
         */
        SafetyPoint: {
            /** Id */
            id: string;
            /** Text */
            text: string;
        };
        /**
         * ServiceLock
         * @description Refuse everything that moves water while a housing is open.
         */
        ServiceLock: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "service_lock";
            /**
             * Name
             * @description who
             */
            name: string;
            /** Pin */
            pin?: string | null;
            /**
             * Reason
             * @description at what
             */
            reason: string;
        };
        /**
         * ServiceUnlock
         * @description Take the service lock off.
         */
        ServiceUnlock: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "service_unlock";
            /** Pin */
            pin?: string | null;
        };
        /**
         * SessionRequest
         * @description The PIN, and a name to sign commands with.
         */
        SessionRequest: {
            /**
             * Name
             * @default
             */
            name: string;
            /** Pin */
            pin: string;
        };
        /**
         * SessionState
         * @description Whether this browser may give commands, and whether it has to bring a PIN for that.
         */
        SessionState: {
            /** Name */
            name: string | null;
            /** Needed */
            needed: boolean;
            /** Pin Set */
            pin_set: boolean;
            /** Present */
            present: boolean;
        };
        /**
         * Shelve
         * @description Put a warning out of sight for a time.
         */
        Shelve: {
            /**
             * Alarm
             * @description its id
             */
            alarm: string;
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "shelve";
            /**
             * Minutes
             * @description for how long (60)
             */
            minutes?: number | null;
            /** Pin */
            pin?: string | null;
        };
        /**
         * Signature
         * @description Who did a step of the commissioning and when; `seen` is what control measured then, in the boat's units.
         */
        Signature: {
            /** Note */
            note: string;
            /** Seen */
            seen: string[];
            /** Time */
            time: string | null;
            /** Who */
            who: string | null;
        };
        /**
         * Silence
         * @description Quiet the buzzer until the next alarm.
         */
        Silence: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "silence";
            /** Pin */
            pin?: string | null;
        };
        /**
         * StandingFault
         * @description A fault that stands now.
         */
        StandingFault: {
            /** Arguments */
            arguments: {
                [key: string]: number | string;
            };
            /** Fault */
            fault: string;
            /** Name */
            name: string;
            /** Target */
            target: string | number | null;
            /** Target Name */
            target_name: string | null;
        };
        /**
         * Start
         * @description Make water: so many litres, or minutes, or until a time; bare: until the tank is full.
         */
        Start: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "start";
            /**
             * Confirmed
             * @description what you have looked at
             */
            confirmed?: string[] | null;
            /**
             * Litres
             * @description litres into the tank
             */
            litres?: number | null;
            /**
             * Minutes
             * @description minutes of water into the tank
             */
            minutes?: number | null;
            /** Pin */
            pin?: string | null;
            /**
             * Until
             * @description a time of day (18:30) or an ISO 8601 date and time
             */
            until?: string | null;
        };
        /**
         * StartQuestion
         * @description A statement that a start asks a person to confirm.
         */
        StartQuestion: {
            /** Id */
            id: string;
            /** Text */
            text: string;
        };
        /**
         * State
         * @description The states of the sequence.
         * @enum {string}
         */
        State: "standby" | "priming" | "pressurising" | "diverting" | "producing" | "stopping" | "flushing" | "tripped" | "laid_up" | "hand_run" | "bench";
        /**
         * Stop
         * @description Stop in good order; always works.
         */
        Stop: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "stop";
            /** Pin */
            pin?: string | null;
        };
        /**
         * StoredPart
         * @description One part. `aboard` is null until it was counted; `number` as noted at the last count.
         */
        StoredPart: {
            /** Aboard */
            aboard: number | null;
            /** Counted */
            counted: boolean;
            fitted: components["schemas"]["PartUsed"] | null;
            /** Minimum */
            minimum: number;
            /** Name */
            name: string;
            /** Number */
            number: string;
            /** Part */
            part: string;
            /** Text */
            text: string;
        };
        /**
         * Stores
         * @description Spares aboard, and what the next harbour has to give.
         */
        Stores: {
            /** At */
            at: string;
            /** Horizon Days */
            horizon_days: number;
            /** Shopping */
            shopping: components["schemas"]["ToBuy"][];
            /** Stores */
            stores: components["schemas"]["StoredPart"][];
        };
        /**
         * TankWater
         * @description The water in the tank by the record. `days_since_turnover` is computed from what was made; `warm_basis` says
         *     whether the sea's warmth is measured or assumed.
         */
        TankWater: {
            /** Chlorine Text */
            chlorine_text: string | null;
            /** Contact Until */
            contact_until: string | null;
            /** Days Since Turnover */
            days_since_turnover: number | null;
            /** Flush Blocked Since */
            flush_blocked_since: string | null;
            /** Residual At */
            residual_at: string | null;
            /** Residual Mg L */
            residual_mg_l: number | null;
            /** Sea C */
            sea_c: number | null;
            /** Text */
            text: string;
            /** Warm */
            warm: boolean;
            /**
             * Warm Basis
             * @enum {string}
             */
            warm_basis: "measured" | "assumed";
        };
        /**
         * ToBuy
         * @description One line of the shopping list: `need` is foreseen within the horizon, `buy` is what to get.
         */
        ToBuy: {
            /** Buy */
            buy: number;
            /** Counted */
            counted: boolean;
            /** Minimum */
            minimum: number;
            /** Name */
            name: string;
            /** Need */
            need: number;
            /** Part */
            part: string;
            /** Text */
            text: string;
        };
        /**
         * UnitChoice
         * @description The units people see; the numbers here keep theirs.
         */
        UnitChoice: {
            /**
             * Pressure
             * @enum {string}
             */
            pressure: "bar" | "psi";
            /**
             * Salt
             * @enum {string}
             */
            salt: "mg/L" | "uS/cm";
            /**
             * Temperature
             * @enum {string}
             */
            temperature: "C" | "F";
            /**
             * Volume
             * @enum {string}
             */
            volume: "L" | "gal";
        };
        /**
         * WithdrawFlushConsent
         * @description End the consent to flushes by themselves; one that runs stops.
         */
        WithdrawFlushConsent: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            command: "withdraw_flush_consent";
            /** Pin */
            pin?: string | null;
        };
        /**
         * WorkDone
         * @description Newest first.
         */
        WorkDone: {
            /** Work */
            work: components["schemas"]["RecordedWork"][];
        };
    };
    responses: never;
    parameters: never;
    requestBodies: never;
    headers: never;
    pathItems: never;
}
export type $defs = Record<string, never>;
export interface operations {
    get_address_api_v1_address_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Address"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_qr_api_v1_address_qr_svg_get: {
        parameters: {
            query?: {
                kind?: ("network" | "name") | null;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "image/svg+xml": unknown;
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_alarms_api_v1_alarms_get: {
        parameters: {
            query?: {
                limit?: number;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["AlarmJournal"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_calibrations_api_v1_calibrations_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["CalibrationsInForce"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_check_api_v1_check_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Check"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    give_command_api_v1_commands_post: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Start"] | components["schemas"]["Stop"] | components["schemas"]["Flush"] | components["schemas"]["Acknowledge"] | components["schemas"]["Reset"] | components["schemas"]["Silence"] | components["schemas"]["Shelve"] | components["schemas"]["LayUp"] | components["schemas"]["Recommission"] | components["schemas"]["Bench"] | components["schemas"]["ConsentFlush"] | components["schemas"]["WithdrawFlushConsent"] | components["schemas"]["ServiceLock"] | components["schemas"]["ServiceUnlock"] | components["schemas"]["Calibrate"] | components["schemas"]["Log"] | components["schemas"]["Fault"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Too many at once, or too many wrong PINs; `Retry-After` says when to try again. */
            429: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_commissioning_api_v1_commissioning_get: {
        parameters: {
            query?: {
                format?: "json" | "html";
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Commissioning"];
                    "text/html": unknown;
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_duties_api_v1_duties_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Duties"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_events_api_v1_events_get: {
        parameters: {
            query?: {
                limit?: number;
                before?: string | null;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Events"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_faults_api_v1_faults_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Faults"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_health_api_v1_health_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Health"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_finding_api_v1_health_finding_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["HealthFinding"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_history_api_v1_history_get: {
        parameters: {
            query: {
                channel: string;
                from?: string | null;
                to?: string | null;
                points?: number;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["PublicHistory"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    now_api_v1_now_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["PublicSnapshot"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_offer_api_v1_offer_get: {
        parameters: {
            query?: {
                litres?: number | null;
                minutes?: number | null;
                until?: string | null;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["PublicOffer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_plan_api_v1_plan_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Plan"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    forbid_api_v1_plan_forbidden_post: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Forbidden"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    foresee_api_v1_plan_forecast_post: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": {
                    /** @description forbidden times */
                    blocked?: {
                        /** @description begin; a moment with its offset, as 2026-07-01T06:00:00Z */
                        from: string;
                        /** @description where, in words */
                        place?: string;
                        /** @description end; a moment with its offset, as 2026-07-01T06:00:00Z */
                        to: string;
                        /** @description why, as an id */
                        why: string;
                    }[];
                    /** @description times with the engine */
                    engine?: {
                        /** @description begin; a moment with its offset, as 2026-07-01T06:00:00Z */
                        from: string;
                        /** @description end; a moment with its offset, as 2026-07-01T06:00:00Z */
                        to: string;
                        /** @description what it charges, W */
                        w: number;
                    }[];
                    /** @description begin of the first hour of sun_w, on the first day of sun_wh_day; a moment with its offset, as 2026-07-01T06:00:00Z */
                    from: string;
                    /** @description the sea of the passage, in the order of time */
                    sea?: {
                        /** @description begin; a moment with its offset, as 2026-07-01T06:00:00Z */
                        from: string;
                        /** @description its salinity; that of the configuration where it is left out, g/kg */
                        salinity_g_kg?: number;
                        /** @description its temperature, °C */
                        temperature_c: number;
                    }[];
                    /** @description charge by the sun in each hour, W */
                    sun_w?: number[];
                    /** @description charge by the sun on each day of the boat's clock, where the hours are not known, Wh */
                    sun_wh_day?: number[];
                } & {
                    [key: string]: components["schemas"]["JsonValue"];
                };
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    forget_api_v1_plan_forecast_delete: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_what_if_api_v1_plan_what_if_get: {
        parameters: {
            query?: {
                /** @description litres more in the tank at the end */
                more_l?: number | null;
                /** @description people more aboard */
                more_people?: number | null;
                /** @description of the sun that is foreseen */
                sun_percent?: number | null;
                /** @description hours of the engine from now on */
                engine_h?: number | null;
                /** @description kelvin that the sea is colder */
                colder_k?: number | null;
                /** @description of the feed flow that a dirty filter leaves */
                feed_percent?: number | null;
                /** @description hours from now on without a run */
                wait_h?: number | null;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["DaysAhead"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_runs_api_v1_runs_get: {
        parameters: {
            query?: {
                limit?: number;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Runs"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_run_api_v1_runs__run__get: {
        parameters: {
            query?: {
                format?: "json" | "html";
            };
            header?: never;
            path: {
                run: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["RunSheet"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    session_state_api_v1_session_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["SessionState"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Too many at once, or too many wrong PINs; `Retry-After` says when to try again. */
            429: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    open_session_api_v1_session_post: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["SessionRequest"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Too many at once, or too many wrong PINs; `Retry-After` says when to try again. */
            429: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    close_session_api_v1_session_delete: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Not from here, or not with this PIN; the reason says which. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Too many at once, or too many wrong PINs; `Retry-After` says when to try again. */
            429: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_stores_api_v1_stores_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Stores"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    stream_api_v1_stream_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["PublicSnapshot"];
                    "text/event-stream": unknown;
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    get_work_api_v1_work_get: {
        parameters: {
            query?: {
                limit?: number;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["WorkDone"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description Control, or the record, cannot be reached now. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    healthz_healthz_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Alive"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
        };
    };
    healthz_of_healthz__part__get: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                /** @description Which. */
                part: "control" | "record" | "mqtt";
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["AlivePart"];
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Answer"];
                };
            };
            /** @description It does not. */
            503: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["AlivePart"];
                };
            };
        };
    };
    get_metrics_metrics_get: {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": string;
                };
            };
            /** @description The request is not to be understood, or names a host that the page is not known by. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": components["schemas"]["Answer"];
                };
            };
            /** @description The PIN has to be given first. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": components["schemas"]["Answer"];
                };
            };
            /** @description The request did not arrive in time. */
            408: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": components["schemas"]["Answer"];
                };
            };
            /** @description The request is too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": components["schemas"]["Answer"];
                };
            };
            /** @description The request makes no sense; every reason is named. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "text/plain": components["schemas"]["Answer"];
                };
            };
        };
    };
}
