#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "base/units/number.h"
#include "signals/recording/internal/mdf4.h"
#include "signals/recording/internal/mdf4_merge.h"

namespace fuelwright::signals {
namespace {

using namespace mdf4;

constexpr double kNoReading = std::numeric_limits<double>::quiet_NaN();
constexpr const char* kTime = "time";

// A group with records, its clock, and where its variable-length values lie.
struct Source {
  const Group* group = nullptr;
  const Records* records = nullptr;
  std::map<std::uint64_t, const Data*> words;  // by the offset that a channel names
  const TreeChannel* clock = nullptr;
};

std::string listed(const std::vector<std::string>& names) {
  constexpr std::size_t kMost = 5;
  std::string out;
  for (std::size_t i = 0; i < std::min(kMost, names.size()); ++i) {
    out += fmt::format("{}\"{}\"", i == 0 ? "" : ", ", names[i]);
  }
  if (names.size() > kMost) out += fmt::format(" and {} more", names.size() - kMost);
  return out;
}

class Table {
 public:
  Table(File& file, std::size_t most_cells) : file_(file), most_cells_(most_cells) {}

  Result<CsvTable> read() {
    FW_TRY(tree_, read_tree(file_));
    out_.name = file_.name();
    out_.row_word = "record";
    out_.warnings = tree_.warnings;
    FW_CHECK(read_records());
    FW_CHECK(choose_sources());
    FW_CHECK(set_time());
    FW_CHECK(read_columns());
    name_columns();
    out_.line_marks.emplace_back(0, 1);
    return std::move(out_);
  }

 private:
  Status read_records() {
    DataReader reader(file_, tree_.unfinished, out_.warnings);
    for (const DataGroup& group : tree_.data) {
      FW_TRY(Data data, reader.read(group.data, "DT"));
      FW_TRY(auto split,
             split_records(file_, group, std::move(data), tree_.unfinished, out_.warnings));
      records_.push_back(std::move(split));
    }
    for (const auto& split : records_) {
      for (const Records& r : split) FW_CHECK(add_source(r, split, reader));
    }
    return Done{};
  }

  Status add_source(const Records& r, const std::vector<Records>& siblings, DataReader& reader) {
    if (r.group->variable || r.group->channels.empty() || r.count == 0) return Done{};
    Source s{r.group, &r, {}, nullptr};
    for (const TreeChannel& c : r.group->channels) {
      if (c.is_master() && c.sync <= 1 && s.clock == nullptr) s.clock = &c;
      if (c.type != ChannelType::variable || c.signal_data == 0 || tree_.unfinished.offsets) {
        continue;
      }
      const auto own = std::ranges::find_if(siblings, [&](const Records& other) {
        return other.group->variable && other.group->at == c.signal_data;
      });
      if (own != siblings.end()) {
        s.words[c.signal_data] = &own->data;
      } else if (!words_.contains(c.signal_data)) {
        FW_TRY(words_[c.signal_data], reader.read(c.signal_data, "SD"));
      }
    }
    for (const auto& [at, data] : words_) s.words.emplace(at, &data);
    sources_.push_back(std::move(s));
    return Done{};
  }

  // Groups with a clock are read together; without any, the longest group alone.
  Status choose_sources() {
    if (sources_.empty()) {
      return Error{ErrorCode::bad_input, file_.name(), "holds no group of channels with records"};
    }
    timed_ = std::ranges::any_of(sources_, [](const Source& s) { return s.clock != nullptr; });
    const Group* longest = std::ranges::max_element(sources_, {}, [](const Source& s) {
                             return s.records->count;
                           })->group;
    std::vector<std::string> left;
    std::erase_if(sources_, [&](const Source& s) {
      const bool drop = timed_ ? s.clock == nullptr : s.group != longest;
      if (drop) left.push_back(s.group->name);
      return drop;
    });
    if (!left.empty()) {
      out_.warnings.push_back(fmt::format("{} group{} no time of {} own and {} left out: {}",
                                          left.size(), left.size() == 1 ? " has" : "s have",
                                          left.size() == 1 ? "its" : "their",
                                          left.size() == 1 ? "was" : "were", listed(left)));
    }
    return check_rows();
  }

  Status check_rows() const {
    std::size_t records = 0;
    for (const Source& s : sources_) records += s.records->count;
    if (records <= std::min(kMostMdfRows * sources_.size(), most_cells_)) return Done{};
    return too_large(records, sources_.size());
  }

  Error too_large(std::size_t rows, std::size_t columns) const {
    return {ErrorCode::too_large, file_.name(),
            fmt::format("would be a table of {} rows and {} columns; at most {} rows and, for a "
                        "file of this size, {} cells are read",
                        rows, columns, kMostMdfRows, most_cells_)};
  }

  Status set_time() {
    if (!timed_) {
      out_.rows = sources_.front().records->count;
      return Done{};
    }
    std::vector<std::vector<double>> stamps;
    for (const Source& s : sources_) {
      stamps.emplace_back(s.records->count, kNoReading);
      FW_TRY(const bool numbers,
             read_channel(file_, *s.clock, *s.records, {}, nullptr, stamps.back()));
      const auto filled = std::ranges::count_if(stamps.back(), [](double t) { return t == t; });
      if (!numbers || filled == 0) {
        return file_.error(
            s.clock->at, fmt::format("the time \"{}\" of a group holds no numbers", s.clock->name));
      }
      FW_CHECK(scale_clock(*s.clock, stamps.back()));
      unstamped_ += stamps.back().size() - static_cast<std::size_t>(filled);
    }
    base_ = merge(stamps, kMostMdfRows);
    out_.rows = base_.time_s.size();
    warn_of_time();
    return Done{};
  }

  // The standard counts time in seconds; a unit that says otherwise is believed.
  Status scale_clock(const TreeChannel& clock, std::vector<double>& stamps) const {
    if (clock.unit.empty()) return Done{};
    const auto unit = find_unit(clock.unit, Kind::time);
    if (!unit) {
      return Error{ErrorCode::unknown_unit, file_.name(),
                   fmt::format("\"{}\" is no unit of the time \"{}\" (known: {})", clock.unit,
                               clock.name, units_of(Kind::time))};
    }
    for (double& t : stamps) t *= unit->factor;
    return Done{};
  }

  void warn_of_time() {
    if (unstamped_ > 0) {
      out_.warnings.push_back(
          fmt::format("{} records have no valid time and were left out", unstamped_));
    }
    if (base_.falls_differ) {
      out_.warnings.emplace_back(
          "time falls back more often in some groups than in others; rows "
          "after that may stand in the wrong drive");
    }
    if (sources_.size() > 1) {
      out_.warnings.push_back(
          fmt::format("{} groups of channels were put on one time base; where "
                      "a channel has no sample its cell is blank",
                      sources_.size()));
    }
  }

  Status read_columns() {
    std::size_t columns = 1;
    for (const Source& s : sources_) columns += s.group->channels.size();
    if (out_.rows > kMostMdfRows || out_.rows > most_cells_ / columns) {
      return too_large(out_.rows, columns);
    }
    if (timed_) add_column(kTime, "s", nullptr).value = std::move(base_.time_s);
    for (std::size_t i = 0; i < sources_.size(); ++i) {
      for (const TreeChannel& c : sources_[i].group->channels) {
        if (!c.is_master()) FW_CHECK(read_column(sources_[i], i, c));
      }
    }
    if (out_.columns.size() < (timed_ ? 2U : 1U)) {
      return Error{ErrorCode::bad_input, file_.name(), "holds no channel besides its time"};
    }
    if (!words_only_.empty()) {
      out_.warnings.push_back(fmt::format(
          "{} channel{} no numbers that can be read (words, frames, conversions that are not "
          "known): {}",
          words_only_.size(), words_only_.size() == 1 ? " holds" : "s hold", listed(words_only_)));
    }
    return Done{};
  }

  Status read_column(const Source& s, std::size_t index, const TreeChannel& c) {
    static const RowOf kAsTheyCome;
    const auto words = s.words.find(c.signal_data);
    CsvColumn& column = add_column(c.name, c.unit, s.group);
    column.value.assign(out_.rows, kNoReading);
    FW_TRY(const bool numbers,
           read_channel(file_, c, *s.records, timed_ ? base_.row_of[index] : kAsTheyCome,
                        words == s.words.end() ? nullptr : words->second, column.value));
    if (numbers) return Done{};
    column.text = true;
    column.value = {};
    words_only_.push_back(column.header);
    return Done{};
  }

  CsvColumn& add_column(std::string_view header, std::string_view unit, const Group* group) {
    CsvColumn column;
    column.header = header;
    column.unit = unit;
    if (column.header.empty()) column.header = fmt::format("column {}", out_.columns.size() + 1);
    out_.columns.push_back(std::move(column));
    groups_.push_back(group);
    return out_.columns.back();
  }

  // A name that comes twice gets its group's; what is still the same, a number.
  void name_columns() {
    std::map<std::string, std::size_t> times;
    for (const CsvColumn& c : out_.columns) ++times[c.header];
    for (std::size_t i = 0; i < groups_.size(); ++i) {
      std::string& header = out_.columns[i].header;
      if (groups_[i] != nullptr && times[header] > 1 && !groups_[i]->name.empty()) {
        header = fmt::format("{} ({})", header, groups_[i]->name);
      }
    }
    std::map<std::string, std::size_t> seen;
    for (CsvColumn& c : out_.columns) {
      if (const std::size_t n = ++seen[c.header]; n > 1) c.header += fmt::format("#{}", n);
    }
  }

  File& file_;
  std::size_t most_cells_;
  Tree tree_;
  std::vector<std::vector<Records>> records_;
  std::map<std::uint64_t, Data> words_;
  std::vector<Source> sources_;
  bool timed_ = false;
  TimeBase base_;
  std::size_t unstamped_ = 0;
  std::vector<const Group*> groups_;  // [column], nullptr for the time
  std::vector<std::string> words_only_;
  CsvTable out_;
};

}  // namespace

bool looks_like_mdf(std::string_view bytes) {
  return bytes.starts_with("MDF     ") || bytes.starts_with("UnFinMF ");
}

Result<CsvTable> read_mdf4(std::string_view bytes, std::string_view name) {
  File file(bytes, name);
  const std::size_t most =
      std::min(kMostMdfCells, kLeastMdfCells + kMdfCellsPerByte * bytes.size());
  return Table(file, most).read();
}

}  // namespace fuelwright::signals
