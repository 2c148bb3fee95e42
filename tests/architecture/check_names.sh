#!/usr/bin/env bash
# A source's own names, those of its unnamed namespace, are unique in its folder: sources are compiled together (CMake's
# UNITY_BUILD), and one must never see another's name in place of its own or of a header's. The compiler refuses equal names of
# one kind; overloads and names that hide a header's it would pass over. Relies on clang-format's layout. Run: check_names.sh PROJECT
set -euo pipefail
cd "${1:?the project folder}"

# "name file" for each function, constant and type at the left margin of an unnamed namespace; a using-declaration of one thing
# may stand in several.
own_names() {
  awk '
    FNR == 1 { inside = 0; raw = "" }
    raw != "" { if (index($0, raw)) raw = ""; next } # in a long piece of text
    /^namespace \{/ { inside = 1; next }
    /^\}  \/\/ namespace$/ { inside = 0; next }
    match($0, /R"[a-z]*\(/) { raw = ")" substr($0, RSTART + 2, RLENGTH - 3) "\""; if (index($0, raw)) raw = "" }
    !inside || /^(template|namespace|return|using|TEST|INSTANTIATE)/ || !/^[A-Za-z_[]/ { next }
    {
      line = $0
      if (match(line, /^(struct|class|enum class|enum) [A-Za-z_0-9]+/)) {
        count = split(substr(line, RSTART, RLENGTH), words, " ")
        print words[count], FILENAME
        next
      }
      if (!match(line, /^[^=(;{]*[(=;{]/)) next
      head = substr(line, 1, RLENGTH - 1)
      sub(/\[[^]]*\] *$/, "", head)
      if (match(head, /[A-Za-z_0-9]+ *$/) && RSTART > 1) {
        name = substr(head, RSTART, RLENGTH)
        sub(/ +$/, "", name)
        print name, FILENAME
      }
    }' "$@"
}

fail=0 checked=0
for folder in src/* tests/*; do
  mapfile -t sources < <(find "$folder" -maxdepth 1 -name '*.cpp' | LC_ALL=C sort)
  [ ${#sources[@]} -gt 0 ] || continue
  case $folder in tests/speed | tests/scenes) continue ;; esac # programs of one source each
  names=$(own_names "${sources[@]}" | sort -u)
  checked=$((checked + $(grep -c . <<<"$names" || true)))
  while read -r name; do
    case $name in "" | PrintTo) continue ;; esac # googletest asks for overloads of that one
    echo "check_names: $name is defined by $(awk -v name="$name" '$1 == name { printf "%s ", $2 }' <<<"$names")" >&2
    fail=1
  done < <(awk '{ print $1 }' <<<"$names" | uniq -d)
done
if [ $checked -eq 0 ]; then echo "check_names: no name was found to check" >&2; exit 1; fi
[ $fail -eq 0 ] && echo "check_names: $checked names, none twice in a folder"
exit $fail
