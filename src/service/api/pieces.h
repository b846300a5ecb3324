/// Pieces of JSON that several replies share.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "car/build/sheet_file.h"
#include "car/tables/difference.h"
#include "car/tables/evidence.h"
#include "car/tables/surface.h"
#include "physics/ensemble/what_to_measure.h"
#include "signals/recording/recording.h"

namespace fuelwright::service::pieces {

using Json = nlohmann::ordered_json;

inline std::string done(const Json& j) {
  // Names of channels come from files of any encoding: what is no UTF-8 is replaced, never thrown.
  return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

/// The same on one line, for replies that are mostly numbers.
inline std::string done_short(const Json& j) {
  return j.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json lines(const std::vector<car::Line>& sheet);              // api/json.cc
Json guesses(const std::vector<signals::Guess>& columns);     // api/json.cc
Json difference(const car::TableDifference& d);               // api/tables.cc
Json measurements(const std::vector<physics::Worth>& worth);  // api/prediction.cc

/// JSON has no NaN and no infinity: null.
inline Json number(double v) { return std::isfinite(v) ? Json(v) : Json(nullptr); }
inline Json numbers(const std::vector<double>& values) {
  Json out = Json::array();
  for (const double v : values) out.push_back(number(v));
  return out;
}
inline Json interval(const physics::Interval& v) {
  return {{"low", v.low}, {"middle", v.middle}, {"high", v.high}};
}
inline const char* units_name(UnitSystem u) { return u == UnitSystem::us ? "us" : "metric"; }

inline Json axis(const car::Axis& a) {
  return {{"kind", car::name_of(a.kind())},
          {"points_si", std::vector<double>(a.points().begin(), a.points().end())}};
}

inline Json surface(const car::Surface& s) {
  return {{"x", axis(s.grid.x)}, {"y", axis(s.grid.y)}, {"values", s.values}};
}

inline Json evidence(const car::Evidence& e) {
  Json marks = Json::array();
  std::vector<double> half;
  for (std::size_t i = 0; i < e.mark.size(); ++i) {
    marks.push_back(car::name_of(e.mark[i]));
    half.push_back(e.half_width(i));
  }
  return {{"table", car::name_of(e.what)},
          {"x", axis(e.grid.x)},
          {"y", axis(e.grid.y)},
          {"estimate", e.estimate},
          {"half_width_95", half},
          {"seconds", e.seconds},
          {"mark", marks}};
}

template <class T, class F>
inline Json maybe(const std::optional<T>& value, F f) {
  return value ? Json(f(*value)) : Json(nullptr);
}

template <class T>
inline Json maybe(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

}  // namespace fuelwright::service::pieces
