-- One row a visit and hand: what the measures read of the visits of the asked testers' months.
-- A visit in which an irrigation names another tester or irrigator gives a row for each hand;
-- figures that need all four responses are then left out (sole = false).
WITH keys AS (
    SELECT * FROM unnest(%(testers)s::uuid[], %(months)s::date[]) AS key (tester_id, month)
),
ids AS (
    SELECT v.id
    FROM keys
    JOIN registry_visit v
        ON v.clinic_id = %(clinic)s AND v.tester_id = keys.tester_id
        AND v.visit_date >= keys.month AND v.visit_date < keys.month + interval '1 month'
    WHERE v.withdrawn_at IS NULL AND v.visit_kind IS DISTINCT FROM 'training'
    UNION
    SELECT v.id
    FROM keys
    JOIN registry_irrigation i ON i.clinic_id = %(clinic)s AND i.tester_id = keys.tester_id
    JOIN registry_visit v
        ON v.clinic_id = i.clinic_id AND v.id = i.visit_id
        AND v.visit_date >= keys.month AND v.visit_date < keys.month + interval '1 month'
    WHERE v.withdrawn_at IS NULL AND v.visit_kind IS DISTINCT FROM 'training'
),
visits AS MATERIALIZED (
    SELECT v.* FROM ids JOIN registry_visit v ON v.clinic_id = %(clinic)s AND v.id = ids.id
),
hands AS (
    SELECT
        i.visit_id,
        coalesce(i.tester_id, v.tester_id) AS tester_id,
        coalesce(i.irrigator_id, v.irrigator_id) AS irrigator_id,
        min(coalesce(i.medium, v.medium)) AS medium,
        max(coalesce(i.medium, v.medium)) AS other_medium,
        min(coalesce(i.peak_basis, '-')) FILTER (WHERE i.counted) AS basis,
        max(coalesce(i.peak_basis, '-')) FILTER (WHERE i.counted) AS other_basis,
        max(i.peak_spv) FILTER (WHERE i.counted AND i.ear = 'right' AND i.stimulus = 'warm') AS right_warm,
        max(i.peak_spv) FILTER (WHERE i.counted AND i.ear = 'right' AND i.stimulus = 'cool') AS right_cool,
        max(i.peak_spv) FILTER (WHERE i.counted AND i.ear = 'left' AND i.stimulus = 'warm') AS left_warm,
        max(i.peak_spv) FILTER (WHERE i.counted AND i.ear = 'left' AND i.stimulus = 'cool') AS left_cool,
        max(i.fixation_spv) FILTER (WHERE i.counted AND i.ear = 'right' AND i.stimulus = 'warm') AS right_warm_fixation,
        max(i.fixation_spv) FILTER (WHERE i.counted AND i.ear = 'right' AND i.stimulus = 'cool') AS right_cool_fixation,
        max(i.fixation_spv) FILTER (WHERE i.counted AND i.ear = 'left' AND i.stimulus = 'warm') AS left_warm_fixation,
        max(i.fixation_spv) FILTER (WHERE i.counted AND i.ear = 'left' AND i.stimulus = 'cool') AS left_cool_fixation,
        max(i.peak_spv) FILTER (WHERE i.order_in_visit = 1 AND i.usable) AS first_peak,
        max(i.ear) FILTER (WHERE i.order_in_visit = 1) AS first_ear,
        max(i.stimulus) FILTER (WHERE i.order_in_visit = 1) AS first_stimulus,
        count(*) FILTER (WHERE i.counted AND i.peak_spv < 0) AS negative_peaks,
        count(*) FILTER (WHERE i.counted) AS counted,
        count(*) FILTER (WHERE i.counted AND i.fixation_spv IS NOT NULL) AS fixated,
        count(*) FILTER (WHERE i.usable AND i.stimulus <> 'ice') AS covered,
        count(*) + coalesce(sum(i.earlier_attempts_not_sent), 0) AS irrigations,
        -- A bare table of four peaks does not say whether anything was repeated.
        bool_or(
            i.attempt > 1 OR i.earlier_attempts_not_sent IS NOT NULL
            OR i.order_in_visit IS NOT NULL OR i.started_at IS NOT NULL
        ) AS repeats_told,
        count(*) FILTER (WHERE i.attempt > 1) + coalesce(sum(i.earlier_attempts_not_sent), 0) AS repeats,
        count(*) FILTER (WHERE repeated AND i.repeat_reason = ANY (%(avoidable)s)) AS repeats_avoidable,
        count(*) FILTER (WHERE repeated AND i.repeat_reason = ANY (%(indicated)s)) AS repeats_indicated,
        count(*) FILTER (WHERE repeated AND i.repeat_reason IS NULL) AS repeats_without_reason,
        greatest(count(i.started_at) - 1, 0) AS rests,
        count(*) FILTER (WHERE i.usable AND i.stimulus <> 'ice' AND i.duration_s IS NOT NULL) AS durations,
        count(*) FILTER (
            WHERE i.usable AND i.peak_spv IS NOT NULL AND i.computed_peak_spv IS NOT NULL
            AND i.peak_basis IS DISTINCT FROM 'computed_v1'
        ) AS beat_peaks,
        count(*) FILTER (WHERE digit) AS digit_peaks,
        count(*) FILTER (WHERE digit AND abs(i.peak_spv - round(i.peak_spv)) < 1e-6) AS digit_whole,
        count(*) FILTER (WHERE digit AND abs(i.peak_spv / 5 - round(i.peak_spv / 5)) < 1e-7) AS digit_five
    FROM visits v
    JOIN registry_irrigation i ON i.clinic_id = %(clinic)s AND i.visit_id = v.id
    CROSS JOIN LATERAL (
        SELECT
            abs(i.peak_spv) >= 5 AND i.peak_basis IS DISTINCT FROM 'computed_v1' AS digit,
            i.attempt > 1 OR coalesce(i.earlier_attempts_not_sent, 0) > 0 AS repeated
    ) AS of_one
    GROUP BY 1, 2, 3
),
results AS (
    SELECT
        v.id AS visit_id, v.subject_id, v.visit_date,
        date_trunc('month', v.visit_date::timestamp)::date AS month,
        v.recorder_id, v.directions_known, v.incomplete_reason, v.protocol_planned, v.protocol_done,
        v.age_years, v.sex, v.background_referral_group,
        greatest(extract(epoch FROM v.received_at - v.visit_date) / 86400, 0) AS upload_days,
        v.spontaneous_spv, v.spontaneous_handling, v.spontaneous_kind,
        coalesce(
            v.reported_unilateral_weakness_percent,
            v.reported_directional_preponderance_percent,
            v.reported_total_spv
        ) IS NOT NULL AS reported,
        r.right_total, r.left_total, r.warm_total, r.cool_total, r.total_spv,
        r.unilateral_weakness_percent, r.directional_preponderance_percent,
        r.gain_asymmetry_percent, r.fixation_index_overall, r.assessment_codes, r.finding_codes,
        CASE WHEN r.finding_codes && '{short_rest,duration_out_of_tolerance,peak_differs_from_beats}'
            THEN (
                SELECT ARRAY[
                    count(*) FILTER (WHERE f ->> 'code' = 'short_rest'),
                    count(*) FILTER (WHERE f ->> 'code' = 'duration_out_of_tolerance'),
                    count(*) FILTER (WHERE f ->> 'code' = 'peak_differs_from_beats')
                ] FROM jsonb_array_elements(r.findings) AS f
            ) ELSE '{0,0,0}' END AS found
    FROM visits v
    JOIN registry_visitresult r ON r.clinic_id = %(clinic)s AND r.visit_id = v.id
),
joined AS (
    SELECT
        *,
        count(*) OVER (PARTITION BY visit_id) = 1 AS sole
    FROM results r JOIN hands h USING (visit_id)
)
SELECT
    visit_id, subject_id, tester_id, irrigator_id, recorder_id, month, visit_date,
    CASE WHEN medium = other_medium THEN medium ELSE 'mixed' END
        || '/' || CASE WHEN basis IS NULL THEN 'none' WHEN basis <> other_basis THEN 'mixed'
            WHEN basis = '-' THEN 'unstated' ELSE basis END AS stratum,
    sole, first_ear, first_stimulus, first_peak,
    right_warm, right_cool, left_warm, left_cool,
    right_total, left_total, warm_total, cool_total, total_spv,
    unilateral_weakness_percent, directional_preponderance_percent, gain_asymmetry_percent,
    fixation_index_overall,
    CASE WHEN unilateral_weakness_percent IS NULL OR 'undetermined' = ANY (assessment_codes) THEN NULL
        ELSE ('unilateral_weakness' = ANY (assessment_codes))::int END AS weakness_met,
    CASE WHEN directional_preponderance_percent IS NULL OR 'undetermined' = ANY (assessment_codes) THEN NULL
        ELSE ('directional_preponderance' = ANY (assessment_codes))::int END AS preponderance_met,
    CASE WHEN total_spv IS NULL OR 'inverted_response' = ANY (finding_codes) OR negative_peaks > 1 THEN NULL
        ELSE ('low_total_response' = ANY (assessment_codes))::int END AS low_total_met,
    CASE WHEN 'inverted_response' = ANY (finding_codes) THEN 1
        WHEN NOT directions_known OR 'opposite_to_expected_cause_unknown' = ANY (finding_codes) THEN NULL
        ELSE 0 END AS inverted,
    negative_peaks,
    (coalesce(protocol_planned, protocol_done) = 'bithermal')::int AS bithermal,
    -- A test that ended after a clear warm screen went as planned.
    ('incomplete' = ANY (finding_codes) AND incomplete_reason IS DISTINCT FROM 'screen_met')::int AS incomplete,
    CASE WHEN repeats_told THEN irrigations END AS irrigations,
    CASE WHEN repeats_told THEN repeats END AS repeats,
    CASE WHEN repeats_told THEN repeats_avoidable END AS repeats_avoidable,
    CASE WHEN repeats_told THEN repeats_indicated END AS repeats_indicated,
    repeats_without_reason,
    CASE WHEN counted > 0 THEN (fixated > 0)::int END AS fixation_recorded,
    rests, rests - least(found[1], rests) AS rests_kept,
    durations, durations - least(found[2], durations) AS durations_kept,
    reported::int AS reported, ('reported_value_differs' = ANY (finding_codes))::int AS reported_differs,
    beat_peaks, least(found[3], beat_peaks) AS beat_peaks_differ,
    digit_peaks, digit_whole, digit_five,
    upload_days,
    CASE WHEN covered > 0 THEN 1 - ('no_current_temperature_check' = ANY (finding_codes))::int END AS check_current,
    CASE WHEN covered > 0 THEN ('after_failed_check' = ANY (finding_codes))::int END AS after_failed,
    age_years,
    CASE sex WHEN 'female' THEN 1 WHEN 'male' THEN 0 END AS female,
    CASE background_referral_group WHEN 'first_acute_episode' THEN 1 ELSE 0 END AS acute,
    CASE first_ear WHEN 'right' THEN 1 WHEN 'left' THEN -1 END AS first_ear_right,
    right_warm_fixation, right_cool_fixation, left_warm_fixation, left_cool_fixation,
    spontaneous_spv,
    -- Only a steady horizontal one can be taken off, as the formulas do.
    CASE WHEN spontaneous_kind IN ('direction_changing', 'vertical') THEN 0
        WHEN spontaneous_handling = 'removed' THEN 2
        WHEN spontaneous_handling = 'not_removed' THEN 1 ELSE 0 END AS spontaneous_handling
FROM joined
ORDER BY tester_id, irrigator_id, recorder_id NULLS FIRST, month, 8, visit_date, visit_id
