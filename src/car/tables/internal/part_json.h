/// Curves, settings and how values came about, as members of a file of tables.
#pragma once

#include "base/result.h"
#include "car/tables/calibration.h"
#include "car/tables/internal/json_reading.h"

namespace fuelwright::car::internal {

Json curve_json(CurveWhat what, const Curve& curve, const Origin* origin);
Json setting_json(SettingWhat what, double value, const Origin* origin);
/// "reason" and "half_width" beside the values they tell of, where there are any.
void add_origin(Json& entry, const Origin* origin);

/// Lists "curves" and "settings" of the file, if it has them, into `out`.
Status read_curves(const Json& file, Calibration& out);
Status read_settings(const Json& file, Calibration& out);
/// The origin that stands beside a value, if one does.
Status read_origin(const Json& entry, const std::string& where, const What& what, Calibration& out);

}  // namespace fuelwright::car::internal
