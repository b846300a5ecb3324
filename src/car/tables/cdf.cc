// The reader of ASAM CDF 2.0. Writer and table_of: cdf_tables.cc.
#include "car/tables/cdf.h"

#include <fmt/format.h>

#include <cstring>
#include <pugixml.hpp>

#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

constexpr std::size_t kLargestCdf = std::size_t{16} << 20U;
constexpr int kDeepest = 64;
constexpr std::size_t kMostValues = 1'000'000;

std::string without_blanks(std::string_view s) {
  const auto blank = [](char c) { return c == ' ' || c == '\n' || c == '\r' || c == '\t'; };
  while (!s.empty() && blank(s.front())) s.remove_prefix(1);
  while (!s.empty() && blank(s.back())) s.remove_suffix(1);
  return std::string(s);
}

std::string text_of(const pugi::xml_node& node, const char* child) {
  return without_blanks(node.child(child).text().get());
}

// A number has fewer characters than this, even the smallest written without an exponent.
constexpr std::size_t kLongestNumber = 512;

std::string value_of(const pugi::xml_node& v) {
  std::string text = without_blanks(v.text().get());
  return text.size() <= kLongestNumber ? text : internal::shown(text);
}

Error bad(const std::string& message) { return {ErrorCode::bad_input, "CDF", message}; }

// Walks without recursion: a file may be any depth.
Status check_depth(const pugi::xml_document& document) {
  int depth = 0;
  pugi::xml_node node = document.first_child();
  while (node) {
    if (depth > kDeepest) {
      return Error{ErrorCode::too_large, "CDF",
                   fmt::format("elements are nested more than {} deep", kDeepest)};
    }
    if (node.first_child()) {
      node = node.first_child();
      ++depth;
      continue;
    }
    while (node && !node.next_sibling()) {
      node = node.parent();
      --depth;
    }
    if (node) node = node.next_sibling();
  }
  return Done{};
}

class Reader {
 public:
  Result<std::vector<CdfInstance>> run(const pugi::xml_node& root) {
    for (const auto& system : root.child("SW-SYSTEMS").children("SW-SYSTEM")) {
      for (const auto& tree : system.child("SW-INSTANCE-SPEC").children("SW-INSTANCE-TREE")) {
        for (const auto& node : tree.children("SW-INSTANCE")) {
          out_.push_back(instance(node));
          if (values_ > kMostValues) {
            return Error{ErrorCode::too_large, "CDF",
                         fmt::format("more than {} values came", kMostValues)};
          }
        }
      }
    }
    if (out_.empty()) return bad("holds no SW-INSTANCE; expected at least one");
    return std::move(out_);
  }

 private:
  CdfInstance instance(const pugi::xml_node& node) {
    CdfInstance out;
    out.name = text_of(node, "SHORT-NAME");
    out.long_name = text_of(node, "LONG-NAME");
    out.category = text_of(node, "CATEGORY");
    pugi::xml_node place = node;
    if (const auto variants = node.child("SW-INSTANCE-PROPS-VARIANTS")) {
      place = variants.child("SW-INSTANCE-PROPS-VARIANT");
      if (place.next_sibling("SW-INSTANCE-PROPS-VARIANT")) {
        out.unusable = "has several variants; expected one";
      }
    }
    for (const auto& axis : place.child("SW-AXIS-CONTS").children("SW-AXIS-CONT")) {
      CdfAxis a{text_of(axis, "UNIT-DISPLAY-NAME"), text_of(axis, "SW-INSTANCE-REF"), {}};
      add_values(axis.child("SW-VALUES-PHYS"), a.values, out);
      out.axes.push_back(std::move(a));
    }
    const auto content = place.child("SW-VALUE-CONT");
    out.unit = text_of(content, "UNIT-DISPLAY-NAME");
    add_rows(content.child("SW-VALUES-PHYS"), out);
    out.kind = kind_of(out);
    return out;
  }

  void add_values(const pugi::xml_node& from, std::vector<std::string>& to, CdfInstance& out) {
    for (const auto& v : from.children()) {
      const char* name = v.name();
      if (std::strcmp(name, "V") == 0 || std::strcmp(name, "VF") == 0) {
        to.push_back(value_of(v));
        ++values_;
      } else if (std::strcmp(name, "VT") == 0 || std::strcmp(name, "VH") == 0) {
        out.unusable = "holds texts; expected numbers";
      } else if (std::strcmp(name, "VG") == 0) {
        out.unusable = "holds groups of values within groups";
      }
    }
  }

  // One row per group; a list without groups is one row.
  void add_rows(const pugi::xml_node& from, CdfInstance& out) {
    if (!from.child("VG")) {
      out.values.emplace_back();
      add_values(from, out.values.back(), out);
      return;
    }
    if (from.child("V") || from.child("VF")) out.unusable = "has values beside its groups";
    std::vector<std::string> labels;
    for (const auto& group : from.children("VG")) {
      out.values.emplace_back();
      add_values(group, out.values.back(), out);
      if (group.child("LABEL")) labels.push_back(text_of(group, "LABEL"));
    }
    check_labels(labels, out);
  }

  // A label says its y point again; it must not say another one.
  void check_labels(const std::vector<std::string>& labels, CdfInstance& out) {
    if (labels.size() != out.values.size() || out.axes.size() < 2) return;
    std::vector<std::string>& y = out.axes[1].values;
    if (y.empty() && out.axes[1].instance.empty()) y = labels;
    for (std::size_t i = 0; i < y.size() && i < labels.size(); ++i) {
      const auto label = parse_double(labels[i]);
      const auto point = parse_double(y[i]);
      if (label && point && *label != *point) {
        out.unusable = fmt::format("group {} is labelled {}, but its y point is {}", i + 1,
                                   internal::shown(labels[i]), internal::shown(y[i]));
        return;
      }
    }
  }

  // The category, or where it is none of the list, what the axes say.
  static CdfKind kind_of(const CdfInstance& i) {
    static constexpr std::pair<const char*, CdfKind> kNames[] = {
        {"VALUE", CdfKind::value},       {"DEPENDENT_VALUE", CdfKind::value},
        {"BOOLEAN", CdfKind::value},     {"CURVE", CdfKind::curve},
        {"MAP", CdfKind::map},           {"VAL_BLK", CdfKind::block},
        {"VALUE_ARRAY", CdfKind::block}, {"COM_AXIS", CdfKind::axis},
        {"ASCII", CdfKind::text}};
    for (const auto& [name, kind] : kNames) {
      if (i.category == name) return kind;
    }
    if (i.axes.size() == 2) return CdfKind::map;
    if (i.axes.size() == 1) return CdfKind::curve;
    return CdfKind::other;
  }

  std::vector<CdfInstance> out_;
  std::size_t values_ = 0;
};

// Axes that only name a common axis take its values, and its unit if they have none.
void follow_common_axes(std::vector<CdfInstance>& all) {
  std::map<std::string, CdfAxis> common;
  for (const CdfInstance& i : all) {
    if (i.kind == CdfKind::axis && i.unusable.empty() && i.values.size() == 1) {
      common.emplace(i.name, CdfAxis{i.unit, "", i.values[0]});
    }
  }
  std::size_t copied = 0;
  for (CdfInstance& i : all) {
    for (CdfAxis& a : i.axes) {
      const auto from = common.find(a.instance);
      if (!a.values.empty() || from == common.end()) continue;
      copied += from->second.values.size();
      if (copied > kMostValues) return;
      a.values = from->second.values;
      if (a.unit.empty()) a.unit = from->second.unit;
    }
  }
}

}  // namespace

Result<std::vector<CdfInstance>> read_cdf(std::string_view bytes) {
  if (bytes.size() > kLargestCdf) {
    return Error{ErrorCode::too_large, "CDF",
                 fmt::format("{} bytes came; expected at most {}", bytes.size(), kLargestCdf)};
  }
  // Some writers say UTF-8, or nothing, and write latin-1.
  const bool wide =
      bytes.size() > 1 && (bytes[0] == '\0' || bytes[1] == '\0' || bytes.starts_with("\xFF\xFE") ||
                           bytes.starts_with("\xFE\xFF"));
  const auto encoding =
      wide || internal::is_utf8(bytes) ? pugi::encoding_auto : pugi::encoding_latin1;
  pugi::xml_document document;
  // Document types are stepped over, not read; of entities only the five of XML itself are known.
  const auto parsed =
      document.load_buffer(bytes.data(), bytes.size(), pugi::parse_default, encoding);
  if (!parsed) {
    return bad(fmt::format("is no XML at byte {}: {}", parsed.offset, parsed.description()));
  }
  FW_CHECK(check_depth(document));
  const pugi::xml_node root = document.child("MSRSW");
  if (!root) {
    return bad(fmt::format("the root is \"{}\"; expected MSRSW",
                           internal::shown(document.document_element().name())));
  }
  FW_TRY(auto out, Reader().run(root));
  follow_common_axes(out);
  return out;
}

}  // namespace fuelwright::car
