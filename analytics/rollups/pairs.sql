-- Consecutive tests of one person at one clinic, at most 90 days apart.
WITH tests AS (
    SELECT
        v.clinic_id, v.id, v.subject_id, v.tester_id, v.visit_date, v.medium,
        r.unilateral_weakness_percent AS weakness,
        r.directional_preponderance_percent AS preponderance,
        CASE WHEN r.right_total > 0 THEN ln(r.right_total) END AS right_log,
        CASE WHEN r.left_total > 0 THEN ln(r.left_total) END AS left_log,
        bases.basis
    FROM registry_visit v
    JOIN registry_visitresult r ON r.clinic_id = v.clinic_id AND r.visit_id = v.id
    CROSS JOIN LATERAL (
        SELECT string_agg(DISTINCT coalesce(i.peak_basis, '-'), ',') AS basis
        FROM registry_irrigation i
        WHERE i.clinic_id = v.clinic_id AND i.visit_id = v.id AND i.counted
    ) AS bases
    WHERE v.clinic_id = %(clinic)s AND v.withdrawn_at IS NULL
        AND v.visit_kind IS DISTINCT FROM 'training'
        AND (%(subjects)s::uuid[] IS NULL OR v.subject_id = ANY (%(subjects)s::uuid[]))
),
pairs AS (
    SELECT
        t.*,
        lag(id) OVER w AS earlier_id,
        lag(tester_id) OVER w AS earlier_tester_id,
        lag(visit_date) OVER w AS earlier_date,
        lag(medium) OVER w AS earlier_medium,
        lag(basis) OVER w AS earlier_basis,
        lag(weakness) OVER w AS earlier_weakness,
        lag(preponderance) OVER w AS earlier_preponderance,
        lag(right_log) OVER w AS earlier_right_log,
        lag(left_log) OVER w AS earlier_left_log
    FROM tests t
    WINDOW w AS (PARTITION BY subject_id ORDER BY visit_date, id)
)
INSERT INTO analytics_retestpair (
    clinic_id, visit_id, earlier_visit_id, subject_id, tester_id, earlier_tester_id, month, days,
    comparable, weakness, earlier_weakness, preponderance, earlier_preponderance,
    right_log_ratio, left_log_ratio
)
SELECT
    clinic_id, id, earlier_id, subject_id, tester_id, earlier_tester_id,
    date_trunc('month', visit_date::timestamp)::date, visit_date - earlier_date,
    coalesce(medium = earlier_medium AND basis = earlier_basis, false),
    weakness, earlier_weakness, preponderance, earlier_preponderance,
    right_log - earlier_right_log, left_log - earlier_left_log
FROM pairs
WHERE earlier_id IS NOT NULL AND visit_date - earlier_date <= 90
