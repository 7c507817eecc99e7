-- Of each asked tester's own irrigations of the last year: repeats by reason, and last digits.
SELECT
    coalesce(i.tester_id, v.tester_id) AS tester_id,
    count(*) AS irrigations,
    count(*) FILTER (WHERE NOT i.usable) AS unusable,
    count(*) FILTER (WHERE i.attempt > 1) AS repeats,
    count(DISTINCT v.id) AS visits,
    count(DISTINCT v.id) FILTER (WHERE i.attempt > 1) AS visits_with_repeat,
    coalesce(
        array_agg(coalesce(i.repeat_reason, '-')) FILTER (WHERE i.attempt > 1), '{}'
    ) AS reasons,
    array_agg(i.peak_spv) FILTER (
        WHERE abs(i.peak_spv) >= 5 AND i.peak_basis IS DISTINCT FROM 'computed_v1'
    ) AS peaks
FROM registry_visit v
JOIN registry_irrigation i ON i.clinic_id = v.clinic_id AND i.visit_id = v.id
WHERE v.clinic_id = %(clinic)s AND v.withdrawn_at IS NULL
    AND v.visit_kind IS DISTINCT FROM 'training'
    AND v.visit_date >= %(since)s AND v.tester_id = ANY (%(testers)s::uuid[])
GROUP BY 1
