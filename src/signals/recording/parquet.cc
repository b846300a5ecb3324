#include "signals/recording/parquet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <set>

#include "signals/recording/internal/parquet_file.h"
#include "signals/recording/internal/parquet_names.h"

namespace fuelwright::signals {
namespace {

constexpr double kMicro = 1e6;
constexpr double kLargest_us = 9e18;  // of what an INT64 holds

struct RowRange {
  std::size_t first = 0, last = 0;
  std::size_t size() const { return last - first; }
};

// Values of a row group, NaN left out.
template <class T, class Get>
ParquetCells with_gaps(RowRange rows, Get get) {
  ParquetCells out;
  std::vector<T> values;
  out.present.resize(rows.size());
  values.reserve(rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double v = get(rows.first + i);
    if (std::isnan(v)) continue;
    out.present[i] = 1;
    if constexpr (std::is_same_v<T, std::int64_t>) {
      values.push_back(std::llround(v));
    } else {
      values.push_back(static_cast<T>(v));
    }
  }
  out.values = std::move(values);
  return out;
}

ParquetCells instants(const Recording& r, std::int64_t start_us, RowRange rows) {
  // Microseconds from the start are exact in a double for 285 years; the start is added as a whole
  // number.
  ParquetCells out = with_gaps<std::int64_t>(rows, [&](std::size_t row) {
    const double us = r.time_s.empty() ? std::nan("") : r.time_s[row] * kMicro;
    return std::abs(us) < kLargest_us / 2 ? us : std::nan("");
  });
  for (std::int64_t& us : std::get<std::vector<std::int64_t>>(out.values)) us += start_us;
  return out;
}

bool rises(const ParquetCells& ts, std::size_t rows) {
  const auto& v = std::get<std::vector<std::int64_t>>(ts.values);
  return v.size() == rows && std::ranges::is_sorted(v);
}

ParquetCells labels(const Recording& r, const std::vector<std::string>& names, RowRange rows) {
  std::vector<std::string_view> out;
  out.reserve(rows.size());
  std::size_t s = 0;
  for (std::size_t row = rows.first; row < rows.last; ++row) {
    while (s + 1 < r.segments.size() && row >= r.segments[s].last) ++s;
    out.push_back(names.empty() ? std::string_view{} : std::string_view{names[s]});
  }
  return {{}, std::move(out)};
}

ParquetCells channel_cells(const Channel& c, const ParquetField& f, RowRange rows) {
  const auto value = [&](std::size_t row) { return (c.si[row] - f.offset) / f.factor; };
  return f.wide ? with_gaps<double>(rows, value) : with_gaps<float>(rows, value);
}

ParquetNotes notes_of(const Recording& r, const ParquetOptions& o,
                      const std::vector<ParquetField>& fields) {
  ParquetNotes notes{{"session", o.session}};
  for (const auto& [key, value] : o.notes) notes.emplace_back(key, as_utf8(value));
  for (std::size_t i = 0; i < fields.size(); ++i) {
    notes.emplace_back("unit." + fields[i].name, as_utf8(fields[i].unit));
    notes.emplace_back("header." + fields[i].name, as_utf8(r.channels[i].header));
  }
  return notes;
}

}  // namespace

std::string write_parquet(const Recording& r, const ParquetOptions& o) {
  EXPECTS(o.rows_per_group >= 1);
  const std::vector<ParquetField> fields = parquet_fields(r);
  std::vector<ParquetColumn> columns{{"ts", ParquetType::timestamp_us, true},
                                     {"session", ParquetType::text},
                                     {"row_index", ParquetType::int64},
                                     {"segment", ParquetType::text}};
  for (const ParquetField& f : fields) {
    columns.push_back({f.name, f.wide ? ParquetType::wide_real : ParquetType::real, true});
  }
  std::vector<std::string> segments;
  for (const Segment& s : r.segments) segments.push_back(as_utf8(s.label));
  ParquetFile file(columns);
  for (RowRange rows; rows.first < r.rows; rows.first = rows.last) {
    rows.last = std::min(r.rows, rows.first + o.rows_per_group);
    const ParquetCells ts = instants(r, o.start_utc_us, rows);
    file.begin_group(rows.size(),
                     rises(ts, rows.size()) ? std::optional<std::size_t>(0) : std::nullopt);
    file.add(ts);
    file.add({{}, std::vector<std::string_view>(rows.size(), o.session)});
    std::vector<std::int64_t> index(rows.size());
    for (std::size_t i = 0; i < index.size(); ++i) {
      index[i] = static_cast<std::int64_t>(rows.first + i);
    }
    file.add({{}, std::move(index)});
    file.add(labels(r, segments, rows));
    for (std::size_t i = 0; i < fields.size(); ++i) {
      file.add(channel_cells(r.channels[i], fields[i], rows));
    }
  }
  return file.finish(notes_of(r, o, fields));
}

std::string write_parquet_channels(const Recording& r, const ParquetOptions& o) {
  const std::vector<ParquetField> fields = parquet_fields(r);
  using Texts = std::vector<std::string>;
  const std::pair<const char*, std::function<std::string(std::size_t)>> texts[] = {
      {"session", [&](std::size_t) { return o.session; }},
      {"channel", [&](std::size_t i) { return fields[i].name; }},
      {"quantity", [&](std::size_t i) { return info(r.channels[i].what).label; }},
      {"unit", [&](std::size_t i) { return fields[i].unit; }},
      {"header", [&](std::size_t i) { return r.channels[i].header; }},
      {"unit_found", [&](std::size_t i) { return r.channels[i].unit_found; }},
      {"reason", [&](std::size_t i) { return r.channels[i].reason; }}};
  std::vector<ParquetColumn> columns;
  for (const auto& [name, get] : texts) columns.push_back({name, ParquetType::text});
  columns.push_back({"confidence", ParquetType::real});
  ParquetFile file(columns);
  if (!fields.empty()) {
    file.begin_group(fields.size(), std::nullopt);
    for (const auto& [name, get] : texts) {
      Texts kept;
      for (std::size_t i = 0; i < fields.size(); ++i) kept.push_back(as_utf8(get(i)));
      file.add({{}, std::vector<std::string_view>(kept.begin(), kept.end())});
    }
    std::vector<float> confidence;
    for (const Channel& c : r.channels) confidence.push_back(static_cast<float>(c.confidence));
    file.add({{}, std::move(confidence)});
  }
  return file.finish(notes_of(r, o, fields));
}

std::optional<std::int64_t> clock_start_us(const Recording& r) {
  constexpr double kYear2000 = 946'684'800;
  constexpr double kYear2100 = 4'102'444'800;
  const Channel* time = r.find(Quantity::time);
  if (r.pace != Pace::timed || time == nullptr) return std::nullopt;
  std::optional<double> first;
  for (const double t : time->si) {
    if (std::isnan(t)) continue;
    if (t < kYear2000 || t >= kYear2100) return std::nullopt;
    if (!first) first = t;
  }
  if (!first) return std::nullopt;
  return std::llround(*first * kMicro);
}

}  // namespace fuelwright::signals
